package simulate

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// TestSharesNoPhysicsWithTheBridge: the simulator is a check of the bridge only while it does not lean on it. Neither
// it nor anything it imports may be of the module's other packages.
func TestSharesNoPhysicsWithTheBridge(t *testing.T) {
	goTool, err := exec.LookPath("go")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("no go command to list imports with")
	}
	out, err := exec.Command(goTool, "list", "-deps", ".").Output()
	if err != nil {
		t.Fatal(err)
	}
	const own = "manobridge/cmd/manobridge/demo/simulate"
	seen := false
	for _, path := range strings.Fields(string(out)) {
		seen = seen || path == own
		if strings.HasPrefix(path, "manobridge/") && path != own {
			t.Errorf("imports %s, want the standard library alone", path)
		}
	}
	if !seen {
		t.Errorf("go list names %q, want %s among them", out, own)
	}
}
