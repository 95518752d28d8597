package main

import (
	"slices"
	"strings"
	"testing"
)

// arrow says what the packages of one part of the house may import of the others. The first that matches holds.
type arrow struct {
	from []string
	to   []string // from the root; a package's own part is listed too
	why  string
}

var arrows = []arrow{
	{[]string{"convert/quantity/..."}, nil,
		"quantities are the leaf that everything rests on"},
	{[]string{"convert/geometry/secondway"}, nil,
		"a second way to the same number is worth something only while it shares nothing with the first"},
	{[]string{"convert/fluid/...", "convert/gravity/...", "convert/uncertainty/...", "convert/geometry/..."},
		[]string{"convert/quantity/...", "convert/fluid", "convert/gravity", "convert/uncertainty", "convert/geometry/..."},
		"the parts of the physics must not know the converter that joins them"},
	{[]string{"convert"},
		[]string{"convert/quantity", "convert/fluid", "convert/gravity", "convert/uncertainty", "convert/geometry"},
		"convert holds the words the others share, so it depends on none of them"},
	{[]string{"convert/..."}, []string{"convert/..."},
		"what looks at results rests on convert alone and gets its state passed in"},
	{[]string{"configs/..."}, []string{"configs/...", "convert/quantity", "convert/fluid"},
		"a configuration is read without knowing who acts on it; cmd/manobridge maps it onto options"},
	{[]string{"ingest/..."}, []string{"ingest/...", "convert", "convert/quantity"},
		"taking in must work whatever is published and however it was configured"},
	{[]string{"publish/..."}, []string{"publish/...", "convert", "convert/quantity"},
		"publishing must work whatever the readings came from and however it was configured"},
	{[]string{"cmd/..."}, []string{"cmd/...", "convert/...", "configs/...", "ingest/...", "publish/..."},
		"cmd/manobridge is the only one that sees all the others"},
}

func TestImportArrows(t *testing.T) {
	for _, f := range sources(t) {
		for _, problem := range arrowProblems(f) {
			t.Error(problem)
		}
	}
}

func arrowProblems(f sourceFile) (problems []string) {
	i := slices.IndexFunc(arrows, func(a arrow) bool { return within(f.dir(), a.from) })
	if i < 0 {
		return []string{f.path + ": the package " + f.dir() + " has no place in the house; say in this test what it may import"}
	}
	for imported, pos := range f.imports() {
		rel, ours := strings.CutPrefix(imported, module+"/")
		if !ours || rel == f.dir() || within(rel, arrows[i].to) { // its own package: an external test
			continue
		}
		problems = append(problems, f.at(pos)+" imports "+imported+", but "+arrows[i].why)
	}
	return problems
}

// Packages of doubles and of second opinions are for tests; a program that imports them ships them.
func TestTestPackagesStayInTests(t *testing.T) {
	for _, f := range sources(t) {
		for _, problem := range shippedTestProblems(f) {
			t.Error(problem)
		}
	}
}

func shippedTestProblems(f sourceFile) (problems []string) {
	if f.isTest() {
		return nil
	}
	for imported, pos := range f.imports() {
		if imported == "testing" || strings.HasPrefix(imported, module+"/") && forTests(imported) {
			problems = append(problems, f.at(pos)+" imports "+imported+", which only tests may")
		}
	}
	return problems
}

// owner says which packages may import a library. Test code may as well where tests is set.
type owner struct {
	library string
	dirs    []string
	tests   bool
	why     string
}

var owners = []owner{
	{"go.bug.st/serial/...", []string{"ingest/serialport"}, true,
		"its silent time-out and its writes after close are tamed there, once"},
	{"modernc.org/sqlite/...", []string{"publish/journal", "cmd/manobridge/speed"}, false, // speed: beside it, on a file of its own
		"a second opener of the same file in the process drops its locks"},
	{"github.com/eclipse/paho.mqtt.golang/...", []string{"publish/mqtt"}, true,
		"after a reconnect it reports what was never acknowledged as done; that is handled there, once"},
	{"github.com/influxdata/influxdb-client-go/v2/...", []string{"publish/series", "cmd/manobridge/speed"}, false, // speed: beside it
		"it counts any 2xx as stored; that is handled there, once"},
	{"go.yaml.in/yaml/v3/...", []string{"configs"}, true, "only configurations are YAML"},
	{"github.com/invopop/jsonschema/...", []string{"configs"}, false, "the schema is made from the configuration's types"},
	{"github.com/santhosh-tekuri/jsonschema/v6/...", nil, true, "it judges our schema from outside, in tests"},
	{"github.com/alecthomas/kong/...", []string{"cmd/manobridge"}, false, "commands are the program's, not the packages'"},
	{"github.com/coreos/go-systemd/v22/...", []string{"cmd/manobridge/..."}, false, "only the program knows its supervisor"},
	{"github.com/prometheus/client_golang/...", []string{"cmd/manobridge/operate"}, true, "what is counted is the bridge's; how it is shown is not"},
	{"github.com/prometheus/common/...", nil, true, "it reads what is shown from outside, in tests"},
	{"github.com/prometheus/client_model/...", nil, true, "as the one before"},
	{"github.com/mochi-mqtt/server/v2/...", []string{"cmd/manobridge/demo/..."}, true,
		"it queues out of order: good for a demonstration, not for the bridge's promise"},
	{"github.com/creack/pty/...", []string{"cmd/manobridge/demo/..."}, true, "pseudo-terminals stand for instruments"},
	{"gonum.org/v1/gonum/...", []string{"convert/..."}, true, "numerics belong to the physics"},
	{"golang.org/x/sync/...", []string{"cmd/...", "ingest/...", "publish/..."}, true, "convert runs no goroutines"},
	{"golang.org/x/sys/...", []string{"cmd/...", "ingest/...", "publish/..."}, true, "convert knows no operating system"},
	{"golang.org/x/term/...", []string{"cmd/..."}, true, "only commands talk to a person at a terminal"},
	{"pgregory.net/rapid/...", nil, true, "it makes random input for tests"},
	{"go.uber.org/goleak/...", nil, true, "it counts goroutines in tests"},
}

func TestLibrariesStayInsideTheirWrapper(t *testing.T) {
	for _, f := range sources(t) {
		for _, problem := range ownerProblems(f) {
			t.Error(problem)
		}
	}
}

func ownerProblems(f sourceFile) (problems []string) {
	for imported, pos := range f.imports() {
		if first, _, _ := strings.Cut(imported, "/"); !strings.Contains(first, ".") {
			continue // the standard library, or ours
		}
		i := slices.IndexFunc(owners, func(o owner) bool { return within(imported, []string{o.library}) })
		if i < 0 {
			problems = append(problems, f.at(pos)+" imports "+imported+", a library this test does not know; say who may import it and why")
			continue
		}
		o := owners[i]
		if within(f.dir(), o.dirs) || o.tests && f.isTest() {
			continue
		}
		problems = append(problems, f.at(pos)+" imports "+imported+", but "+o.why)
	}
	return problems
}

// pureLibrary is all that convert may use of the standard library: nothing that reads, writes, waits or logs.
var pureLibrary = []string{
	"bytes", "cmp", "crypto/sha256", "encoding", "encoding/binary", "encoding/hex", "errors", "fmt", "hash/fnv", "iter",
	"maps", "math/...", "slices", "sort", "strconv", "strings", "unicode/...",
	"time", // for its types; TestSourceRules forbids the clock
}

func TestConvertIsPure(t *testing.T) {
	for _, f := range sources(t) {
		for _, problem := range purityProblems(f) {
			t.Error(problem)
		}
	}
}

func purityProblems(f sourceFile) (problems []string) {
	if f.isTest() || !within(f.dir(), []string{"convert/..."}) {
		return nil
	}
	for imported, pos := range f.imports() {
		first, _, _ := strings.Cut(imported, "/")
		if first == module || strings.Contains(first, ".") || within(imported, pureLibrary) {
			continue
		}
		problems = append(problems, f.at(pos)+" imports "+imported+
			", but convert is pure: the same reading gives the same result on every machine, at any time")
	}
	return problems
}

// The rules above are tried on files that break them, so that a rule that no longer looks is noticed.
func TestImportRulesCatch(t *testing.T) {
	tests := []struct {
		name, path, imports string
		find                func(sourceFile) []string
		want                int
	}{
		{"ingest sees publish", "ingest/source.go", "manobridge/publish", arrowProblems, 1},
		{"ingest sees frame", "ingest/source.go", "manobridge/ingest/frame", arrowProblems, 0},
		{"configs sees convert", "configs/load.go", "manobridge/convert", arrowProblems, 1},
		{"geometry sees convert", "convert/geometry/walk.go", "manobridge/convert", arrowProblems, 1},
		{"alarm sees convert", "convert/alarm/alarm.go", "manobridge/convert", arrowProblems, 0},
		{"quantity sees fluid", "convert/quantity/quantity.go", "manobridge/convert/fluid", arrowProblems, 1},
		{"a test of ingest sees publish", "ingest/source_test.go", "manobridge/publish", arrowProblems, 1},
		{"the second way looks at the first", "convert/geometry/secondway/walk.go", "manobridge/convert/geometry", arrowProblems, 1},
		{"an unknown part", "util/util.go", "fmt", arrowProblems, 1},
		{"serial in ingest", "ingest/source.go", "go.bug.st/serial", ownerProblems, 1},
		{"serial as a witness in a test", "cmd/manobridge/demo/bench_test.go", "go.bug.st/serial", ownerProblems, 0},
		{"serial in its wrapper", "ingest/serialport/port.go", "go.bug.st/serial", ownerProblems, 0},
		{"sqlite in a test of mqtt", "publish/mqtt/sink_test.go", "modernc.org/sqlite", ownerProblems, 1},
		{"MQTT client in a double", "publish/publishtest/broker.go", "github.com/eclipse/paho.mqtt.golang/packets", ownerProblems, 0},
		{"MQTT client in the series sink", "publish/series/sink.go", "github.com/eclipse/paho.mqtt.golang", ownerProblems, 1},
		{"rapid in the program", "convert/converter.go", "pgregory.net/rapid", ownerProblems, 1},
		{"an unknown library", "publish/mqtt/sink_test.go", "example.org/new", ownerProblems, 1},
		{"a double in the program", "cmd/manobridge/run.go", "manobridge/ingest/ingesttest", shippedTestProblems, 1},
		{"a double in a test", "cmd/manobridge/run_test.go", "manobridge/ingest/ingesttest", shippedTestProblems, 0},
		{"the second way in the program", "convert/converter.go", "manobridge/convert/geometry/secondway", shippedTestProblems, 1},
		{"convert reads files", "convert/fluid/table.go", "os", purityProblems, 1},
		{"convert logs", "convert/converter.go", "log/slog", purityProblems, 1},
		{"a test of convert reads files", "convert/fluid/table_test.go", "os", purityProblems, 0},
		{"convert computes", "convert/converter.go", "math", purityProblems, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f := parseSource(t, tt.path, "package x\nimport _ \""+tt.imports+"\"\n")
			if got := tt.find(f); len(got) != tt.want {
				t.Errorf("got %d problems %q, want %d", len(got), got, tt.want)
			}
		})
	}
}
