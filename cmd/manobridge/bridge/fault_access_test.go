package bridge_test

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

// everything are the topics of results.
var everything = []string{"manobridge/test-hall/+/pressure", "manobridge/test-hall/+/backlog"}

// refusedThenLetIn runs a bridge that the far end refuses, which must be said with a hint and once, and must cost nothing; then
// one on the same journal that is set right, which must deliver the results of both.
func refusedThenLetIn(t *testing.T, l *publishtest.Ledger, addr, code, hint string, wrong, right func(line, path string) *configs.Config) {
	t.Helper()
	subscriber := publishtest.Subscribe(t, addr, everything, "-u", "desk", "-P", "desk-secret")
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	for i, configure := range []func(line, path string) *configs.Config{wrong, right} {
		c := configure(line.Path, path)
		c.Run.Drain = configs.Duration(100 * time.Millisecond)
		x := start(t, c)
		opened(t, x, line)
		line.Send(strings.Repeat("02,75.30,21.0\n03,80.10,21.5\n", 20))
		eventually(t, "every frame", func() bool { return x.b.Counts().Good == 40 })
		if i == 0 {
			eventually(t, code, func() bool { return strings.Contains(x.log.String(), code) })
			if log := x.log.String(); strings.Count(log, code) != 1 || !strings.Contains(log, hint) || strings.Contains(log, "code=broker-up") {
				t.Errorf("got %d times %s, want it once with %q and no connection:\n%s", strings.Count(log, code), code, hint, log)
			}
			holdWaiting(t, x, 40)
		} else {
			eventually(t, "everything delivered", settled(x))
		}
		x.end()
	}
	if n := causesOf(rows(t, path))[convert.Cause("")]; n != 80 {
		t.Errorf("got %d good rows in the journal, want 80", n)
	}
	holdAll(t, l, path, far{subscriber: subscriber})
}

// holdWaiting holds that n results wait for the one sink, and none is delivered or put aside.
func holdWaiting(t *testing.T, x *bench, n int64) {
	t.Helper()
	eventually(t, "everything waiting", func() bool { return x.b.Deliveries()[0].Waiting >= n })
	if d := x.b.Deliveries()[0]; d.Delivered != 0 || d.Quarantined != 0 {
		t.Errorf("got %+v, want everything waiting", d)
	}
}

// A broker that asks for a certificate refuses a bridge without one.
func TestBrokerThatAsksForACertificate(t *testing.T) {
	ledger := publishtest.NewLedger(t, "mqtt")
	ca, server, own := publishtest.Certificates(t)
	_, port, _ := net.SplitHostPort(publishtest.FreeAddr(t))
	broker := publishtest.Mosquitto(t, "listener "+port+" 127.0.0.1", "cafile "+ca, "certfile "+server+".crt",
		"keyfile "+server+".key", "require_certificate true")
	with := func(more string) func(line, path string) *configs.Config {
		return func(line, path string) *configs.Config {
			return config(t, line, path, fmt.Sprintf("publish: {mqtt: {url: \"ssl://127.0.0.1:%s\", tls: {ca_file: %q%s}}}", port, ca, more))
		}
	}
	refusedThenLetIn(t, ledger, broker.Addr, "code=broker-", "check", with(""),
		with(fmt.Sprintf(", cert_file: %q, key_file: %q", own+".crt", own+".key")))
}

// passwords are the users of a broker: bridge and desk, each with its name and -secret.
func passwords(t *testing.T) (lines []string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "users")
	for i, user := range []string{"bridge", "desk"} {
		args := []string{"-b", file, user, user + "-secret"}
		if i == 0 {
			args = append([]string{"-c"}, args...)
		}
		if out, err := exec.Command(publishtest.Binary(t, "mosquitto_passwd"), args...).CombinedOutput(); err != nil {
			t.Fatalf("mosquitto_passwd: %v: %s", err, out)
		}
	}
	return []string{"allow_anonymous false", "password_file " + file}
}

// A wrong password is said with what to check, and shown nowhere.
func TestWrongPasswordThenTheRightOne(t *testing.T) {
	ledger := publishtest.NewLedger(t, "mqtt")
	broker := publishtest.Mosquitto(t, passwords(t)...)
	with := func(password string) func(line, path string) *configs.Config {
		return func(line, path string) *configs.Config {
			c := config(t, line, path, fmt.Sprintf("publish: {mqtt: {url: \"tcp://%s\", username: bridge, password_env: BENCH_SECRET}}", broker.Addr))
			c.Publish.MQTT.Password = configs.NewSecret(password)
			return c
		}
	}
	t.Setenv("BENCH_SECRET", "no one's")
	refusedThenLetIn(t, ledger, broker.Addr, "code=broker-refused", "check username and password", with("wrong-one"), with("bridge-secret"))
}

// The access list of a broker denies all results, and this broker acknowledges what it denies and drops it. No answer tells
// that, but the bridge's own canary does; and the journal has every result for an export.
func TestAccessListThatDeniesResults(t *testing.T) {
	publishtest.Watch(t) // what was acknowledged and dropped is in no ledger
	acl := filepath.Join(t.TempDir(), "acl")
	text := "topic readwrite publishtest-probe/#\ntopic read #\n"
	for _, topic := range []string{"+/presence", "+/state", "+/about"} {
		text += "topic write manobridge/test-hall/" + topic + "\n"
	}
	if err := os.WriteFile(acl, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	broker := publishtest.Mosquitto(t, "acl_file "+acl, "max_queued_messages 1000") // with no bound it hangs up after the acknowledgement
	subscriber := publishtest.Subscribe(t, broker.Addr, everything)
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, fmt.Sprintf("publish: {mqtt: {url: \"tcp://%s\"}}", broker.Addr)))
	opened(t, x, line)
	line.Send(strings.Repeat("02,75.30,21.0\n03,80.10,21.5\n", 10))
	eventually(t, "every frame", func() bool { return x.b.Counts().Good == 20 })
	eventually(t, "that the broker drops is said", func() bool { return strings.Contains(x.log.String(), "code=broker-drops ") })
	x.end()
	if n := subscriber.Count(); n != 0 {
		t.Errorf("got %d results at the subscriber, want none: else this test shows nothing", n)
	}
	if n := len(goodRows(t, path)); n != 20 {
		t.Errorf("got %d good results in the journal, want 20", n)
	}
}
