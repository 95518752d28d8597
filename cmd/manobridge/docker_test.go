package main

import (
	"encoding/json"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// instruction is one line of a Dockerfile, continuation lines joined.
type instruction struct{ word, rest string }

// stages reads the Dockerfile as its stages, each beginning with FROM.
//
// Source: the Dockerfile reference of the Docker documentation, "Format": comments are lines that begin with #, also
// between continuation lines; a backslash at the end of a line continues it.
func stages(t *testing.T) [][]instruction {
	t.Helper()
	var stages [][]instruction
	open := false // the last instruction goes on
	for _, line := range strings.Split(readFile(t, "Dockerfile"), "\n") {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		text, more := strings.CutSuffix(line, `\`)
		if !open {
			word, rest, _ := strings.Cut(text, " ")
			if word == "FROM" {
				stages = append(stages, nil)
			}
			if len(stages) == 0 {
				t.Fatalf("got %q before the first FROM, want a stage", line)
			}
			stages[len(stages)-1] = append(stages[len(stages)-1], instruction{word, strings.TrimSpace(rest)})
		} else {
			last := stages[len(stages)-1]
			last[len(last)-1].rest += " " + strings.TrimSpace(text)
		}
		open = more
	}
	if len(stages) != 2 {
		t.Fatalf("got %d stages in the Dockerfile, want 2: one that builds, one that runs", len(stages))
	}
	return stages
}

// all gives what stands behind every use of an instruction in a stage.
func all(stage []instruction, word string) (rests []string) {
	for _, in := range stage {
		if in.word == word {
			rests = append(rests, in.rest)
		}
	}
	return rests
}

// one gives what stands behind the only use of an instruction in a stage.
func one(t *testing.T, stage []instruction, word string) string {
	t.Helper()
	rests := all(stage, word)
	if len(rests) != 1 {
		t.Fatalf("got %s %d times %q, want it once", word, len(rests), rests)
	}
	return rests[0]
}

func TestImageIsBuiltWithTheGoOfTheModule(t *testing.T) {
	from := one(t, stages(t)[0], "FROM")
	image := regexp.MustCompile(`\bgolang:(\d+\.\d+)\b`).FindStringSubmatch(from)
	wanted := regexp.MustCompile(`(?m)^go (\d+\.\d+)`).FindStringSubmatch(readFile(t, "go.mod"))
	if image == nil || wanted == nil || image[1] != wanted[1] {
		t.Errorf("got FROM %s, want the Go of go.mod, %q", from, wanted)
	}
}

func TestImageHoldsAStaticProgram(t *testing.T) {
	built := stages(t)
	runs := strings.Join(all(built[0], "RUN"), "\n")
	if !regexp.MustCompile(`CGO_ENABLED=0 [^\n]*go build [^\n]*\./cmd/manobridge`).MatchString(runs) {
		t.Errorf("got RUN %s, want the program built with CGO_ENABLED=0: the last stage has no C library", runs)
	}
	if from := one(t, built[1], "FROM"); from != "scratch" {
		t.Errorf("got FROM %s, want scratch", from)
	}
	copied := strings.Join(all(built[1], "COPY"), "\n")
	if !strings.Contains(copied, "/etc/ssl/certs/") {
		t.Errorf("got COPY %s, want certificates too: without them no TLS broker is trusted", copied)
	}
}

func TestImageDoesNotRunAsRoot(t *testing.T) {
	user := one(t, stages(t)[1], "USER")
	id, _, _ := strings.Cut(user, ":")
	if n, err := strconv.Atoi(id); err != nil || n == 0 {
		t.Errorf("got USER %s, want a number other than 0: scratch has no names, and root may do too much", user)
	}
	owned := "--chown=" + user + " "
	copied := strings.Join(all(stages(t)[1], "COPY"), "\n")
	if !regexp.MustCompile(regexp.QuoteMeta(owned) + `\S+ /var/lib/manobridge(\n|$)`).MatchString(copied) {
		t.Errorf("got COPY %s, want the journal's directory with %s", copied, owned)
	}
}

func TestImageKeepsConfigurationAndJournalOutside(t *testing.T) {
	volumes := words(t, one(t, stages(t)[1], "VOLUME"))
	for _, want := range []string{"/etc/manobridge", "/var/lib/manobridge"} {
		if !slices.Contains(volumes, want) {
			t.Errorf("got VOLUME %q, want %s in it", volumes, want)
		}
	}
	if dir := one(t, stages(t)[1], "WORKDIR"); dir != "/var/lib/manobridge" {
		t.Errorf("got WORKDIR %s, want the journal's volume: a relative journal path counts from it", dir)
	}
}

// imageCommands gives the commands that the image runs by itself, without the program's name.
func imageCommands(t *testing.T) (run, health []string) {
	t.Helper()
	last := stages(t)[1]
	program := words(t, one(t, last, "ENTRYPOINT"))
	run = words(t, one(t, last, "CMD"))
	_, command, found := strings.Cut(one(t, last, "HEALTHCHECK"), "CMD ")
	if !found {
		t.Fatalf("got HEALTHCHECK %s, want one that runs a CMD", one(t, last, "HEALTHCHECK"))
	}
	health = words(t, command)
	if len(program) != 1 || len(health) < 2 || health[0] != program[0] {
		t.Fatalf("got ENTRYPOINT %q and health check %q, want the same program: scratch has no other", program, health)
	}
	return run, health[1:]
}

func TestImageRunsTheDaemonAndAsksItsHealth(t *testing.T) {
	run, health := imageCommands(t)
	if run[0] != "run" {
		t.Errorf("got CMD %q, want the daemon, run", run)
	}
	if run[len(run)-1] != health[len(health)-1] {
		t.Errorf("got run %q and health check %q, want the same configuration", run, health)
	}
}

// The commands of the image are ones that the program has, spelled as it takes them.
func TestImageCommandsExist(t *testing.T) {
	run, health := imageCommands(t)
	for _, args := range [][]string{run, health} {
		var c cli
		parser, err := kong.New(&c)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := parser.Parse(args); err != nil {
			t.Errorf("got %v for %q in the Dockerfile, want a command of the program", err, args)
		}
	}
	if dir := path.Dir(run[len(run)-1]); dir != "/etc/manobridge" {
		t.Errorf("got the configuration in %s, want it in the volume /etc/manobridge", dir)
	}
}

// words reads the JSON form of an instruction: without a shell in the image there is no other.
func words(t *testing.T, text string) (list []string) {
	t.Helper()
	if err := json.Unmarshal([]byte(text), &list); err != nil || len(list) == 0 {
		t.Fatalf("got %s, want a list in JSON form, there is no shell: %v", text, err)
	}
	return list
}
