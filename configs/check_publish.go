package configs

import (
	"fmt"
	"strings"
)

func (k *checker) publish() {
	if m := k.c.Publish.MQTT; m != nil {
		const path = "publish.mqtt"
		if m.ClientID == "" {
			m.ClientID = m.Prefix + "-" + k.c.Site + "-" + k.c.Bridge
		}
		m.Password = k.secret(path, "password", m.PasswordFile, m.PasswordEnv)
		if m.Username == "" && (m.PasswordFile != "" || m.PasswordEnv != "") {
			k.missing(join(path, "username"), "a password needs one")
		}
		k.tls(path, m)
	}
	if s := k.c.Publish.Series; s != nil {
		s.Token = k.secret("publish.series", "token", s.TokenFile, s.TokenEnv)
	}
}

func (k *checker) tls(path string, m *MQTT) {
	if m.TLS == nil {
		return
	}
	at := join(path, "tls")
	scheme, _, _ := strings.Cut(m.URL, "://")
	if m.URL != "" && !k.bad(join(path, "url")) && !isEncrypted(scheme) {
		k.report(at, Problem{Fault: "is not used by " + scheme + "://, which does not encrypt", Hint: "write ssl:// in url, or remove tls"})
	}
	switch {
	case m.TLS.CertFile != "" && m.TLS.KeyFile == "":
		k.missing(join(at, "key_file"), "cert_file needs its key")
	case m.TLS.KeyFile != "" && m.TLS.CertFile == "":
		k.missing(join(at, "cert_file"), "key_file needs its certificate")
	}
}

// largestSecret bounds the file of a secret.
const largestSecret = 64 << 10

// secret reads a secret from the file or the environment variable that is named; empty where none is.
func (k *checker) secret(path, name, file, variable string) Secret {
	fileAt, envAt := join(path, name+"_file"), join(path, name+"_env")
	var text string
	switch {
	case file != "" && variable != "":
		k.report(envAt, Problem{Fault: "contradicts " + name + "_file, which says the same thing", Hint: "keep one of the two"})
		return Secret{}
	case k.o.SkipSecrets || k.bad(fileAt) || k.bad(envAt):
		return Secret{}
	case file != "" && k.o.ReadFile != nil:
		data, err := k.o.ReadFile(file)
		if err != nil {
			k.report(fileAt, Problem{Fault: "cannot be read: " + err.Error(), Hint: "check the path, and that the bridge's user may read it"})
			return Secret{}
		}
		if len(data) > largestSecret {
			k.report(fileAt, Problem{Seen: quote(file), Fault: "is larger than", Allowed: fmt.Sprintf("%d bytes", largestSecret)})
			return Secret{}
		}
		text = string(data)
	case variable != "" && k.o.LookupEnv != nil:
		value, ok := k.o.LookupEnv(variable)
		if !ok {
			k.report(envAt, Problem{Seen: quote(variable), Fault: "is not set in the environment of the bridge"})
			return Secret{}
		}
		text = value
	default:
		return Secret{}
	}
	at, from := fileAt, quote(file)
	if variable != "" {
		at, from = envAt, quote(variable)
	}
	text = strings.TrimSpace(text)
	switch {
	case text == "":
		k.report(at, Problem{Seen: from, Fault: "is empty"})
	case strings.ContainsAny(text, "\r\n"):
		k.report(at, Problem{Seen: from, Fault: "has more than one line", Hint: "it is to hold the " + name + " and nothing else"})
	}
	return NewSecret(text)
}
