package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"manobridge/publish/publishtest"
)

// Through refused logins, refused reloads and everything else that goes wrong, at the most talkative level and in either form,
// the log never shows a password or a token.
func TestLogShowsNoSecret(t *testing.T) {
	broker := publishtest.Mosquitto(t, "allow_anonymous false") // and no passwords: nobody enters
	program := program(t)
	for _, form := range []string{"text", "json"} {
		t.Run(form, func(t *testing.T) {
			dir := t.TempDir()
			secrets := []string{"pw-Kiesel-93", "tok-Basalt-41", "inline-Granit-7", "user-Gneis-5"}
			writeFile(t, filepath.Join(dir, "password"), secrets[0]+"\n")
			writeFile(t, filepath.Join(dir, "token"), secrets[1]+"\n")
			publish := fmt.Sprintf("publish:\n  mqtt: {url: \"tcp://%s\", username: bench, password_file: %q}\n  series: {url: \"http://%s\", org: lab, bucket: pressure, token_file: %q}",
				broker.Addr, filepath.Join(dir, "password"), publishtest.FreeAddr(t), filepath.Join(dir, "token"))
			config := writeConfig(t, filepath.Join(dir, "ttyNONE0"), filepath.Join(dir, "manobridge.db"), publish)
			data, err := os.ReadFile(config)
			if err != nil {
				t.Fatal(err)
			}
			good := string(data)
			d := launch(t, program, config, "--log-level", "debug", "--log-format", form)
			d.says("bridge-started")
			d.says("broker-refused")
			for _, bad := range []string{
				strings.Replace(good, "password_file", "password: "+secrets[2]+", password_file", 1),
				strings.Replace(good, "tcp://", "tcp://bench:"+secrets[3]+"@", 1),
				strings.Replace(good, "http://", "http://bench:"+secrets[3]+"@", 1),
			} {
				said := len(d.said())
				writeFile(t, config, bad)
				d.signal(syscall.SIGHUP)
				publishtest.Eventually(t, "a reload refused", func() bool { return strings.Contains(d.said()[said:], "reload-refused") })
			}
			// A new token of its own file is taken up, and a broken link with it.
			secrets = append(secrets, "tok-Marmor-12")
			writeFile(t, filepath.Join(dir, "token"), secrets[4])
			writeFile(t, config, good)
			d.signal(syscall.SIGHUP)
			d.says("config-reloaded")
			d.signal(syscall.SIGTERM)
			if got := d.status(); got != exitDone {
				t.Errorf("got exit status %d, want %d", got, exitDone)
			}
			for _, s := range secrets {
				if strings.Contains(d.said(), s) {
					t.Errorf("the log shows %q", s)
				}
			}
		})
	}
}
