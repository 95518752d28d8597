package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/alecthomas/kong"

	"manobridge/configs"
)

// unitFile gives the settings of the unit file in order, each with its values.
func unitFile(t *testing.T) (text string, settings map[string][]string) {
	t.Helper()
	data, err := os.ReadFile("operate/manobridge.service")
	if err != nil {
		t.Fatal(err)
	}
	settings = map[string][]string{}
	for line := range strings.Lines(string(data)) {
		line = strings.TrimSpace(line)
		if key, value, ok := strings.Cut(line, "="); ok && !strings.HasPrefix(line, "#") {
			settings[key] = append(settings[key], value)
		}
	}
	return string(data), settings
}

// What the unit file says of the program is true of it.
func TestUnitFileFitsTheProgram(t *testing.T) {
	_, unit := unitFile(t)
	one := func(key string) string {
		t.Helper()
		if len(unit[key]) != 1 {
			t.Fatalf("%s: got %q, want it once", key, unit[key])
		}
		return unit[key][0]
	}
	args := strings.Fields(one("ExecStart"))[1:]
	config := slices.Index(args, "-c")
	if config < 0 || !strings.HasPrefix(args[config+1], "/etc/manobridge/") {
		t.Fatalf("got %q, want a configuration in /etc/manobridge", args)
	}
	var c cli
	parser, err := kong.New(&c)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parser.Parse(args); err != nil {
		t.Errorf("got %v, want the program to know %q", err, args)
	}
	if got := one("RestartPreventExitStatus"); got != strconv.Itoa(exitNotStarted) {
		t.Errorf("got RestartPreventExitStatus=%s, want %d", got, exitNotStarted)
	}
	drain := time.Duration(configs.Default("bench").Run.Drain)
	if s, err := strconv.Atoi(one("TimeoutStopSec")); err != nil || time.Duration(s)*time.Second <= 2*drain {
		t.Errorf("got TimeoutStopSec=%s, want more than twice run.drain of %v", one("TimeoutStopSec"), drain)
	}
	// The bridge feeds at a third of it, and its loop goes round each second.
	if s, err := strconv.Atoi(one("WatchdogSec")); err != nil || s < 30 {
		t.Errorf("got WatchdogSec=%s, want at least 30", one("WatchdogSec"))
	}
	if state := one("StateDirectory"); one("WorkingDirectory") != "/var/lib/"+state {
		t.Errorf("got WorkingDirectory=%s, want that of StateDirectory=%s", one("WorkingDirectory"), state)
	}
	// The classes of character devices are those of the kernel: systemd.resource-control(5), /proc/devices.
	for _, kind := range []string{"ttyUSB", "ttyACM", "ttyS"} {
		if !slices.Contains(unit["DeviceAllow"], "char-"+kind+" rw") {
			t.Errorf("got DeviceAllow %q, want char-%s among them", unit["DeviceAllow"], kind)
		}
	}
}

// systemd itself finds nothing wrong with the unit file, and little exposed.
func TestUnitFileForSystemd(t *testing.T) {
	analyze, err := exec.LookPath("systemd-analyze")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("systemd-analyze is not installed")
		}
		t.Skip("SKIPPED: systemd-analyze is not installed, so the unit file was not verified")
	}
	text, _ := unitFile(t)
	version, err := exec.CommandContext(t.Context(), analyze, "--version").Output()
	m := regexp.MustCompile(`^systemd (\d+)`).FindSubmatch(version)
	if err != nil || m == nil {
		t.Fatalf("systemd-analyze --version: %v %s", err, version)
	}
	if n, _ := strconv.Atoi(string(m[1])); n < 253 { // which has notify-reload: systemd.service(5)
		text = strings.Replace(text, "Type=notify-reload", "Type=notify", 1)
	}
	dir := t.TempDir()
	text = strings.Replace(text, "/usr/local/bin/manobridge", program(t), 1)
	path := filepath.Join(dir, "manobridge.service")
	writeFile(t, path, text)
	if out, err := exec.CommandContext(t.Context(), analyze, "verify", path).CombinedOutput(); err != nil || strings.Contains(string(out), "manobridge.service") {
		t.Errorf("systemd-analyze verify: %v\n%s", err, out)
	}
	out, err := exec.CommandContext(t.Context(), analyze, "security", "--no-pager", "--offline=true", path).CombinedOutput()
	level := regexp.MustCompile(`Overall exposure level for manobridge.service: ([0-9.]+)`).FindSubmatch(out)
	if err != nil || level == nil {
		t.Fatalf("systemd-analyze security: %v\n%s", err, out)
	}
	// Its own scale: 10 is everything open; below 2.5 it says OK. Network and serial devices are needed.
	if got, err := strconv.ParseFloat(string(level[1]), 64); err != nil || got >= 2.5 {
		t.Errorf("got exposure %s, want below 2.5", level[1])
	}
}
