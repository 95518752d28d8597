package configs

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
)

// portless are the schemes whose port everybody knows; the others must state it.
var portless = []string{"http", "https", "ws", "wss"}

// addressFault says what is wrong with the address of a broker or store, nil when nothing is. An address that may hold a
// password is never shown.
func addressFault(s string, schemes []string) *Problem {
	if strings.Contains(s, "@") {
		return &Problem{Fault: "a name or password inside an address is not read (the address is not shown)",
			Hint: "use username and password_file or password_env, or token_file or token_env"}
	}
	allowed := list(withSlashes(schemes)) + " with host and port, as " + schemes[0] + "://127.0.0.1:" + usualPort(schemes[0])
	u, err := url.Parse(s)
	if err != nil || u.Opaque != "" || u.Host == "" || !strings.Contains(s, "://") {
		return &Problem{Seen: quote(s), Fault: "is not an address:", Allowed: allowed}
	}
	if !slices.Contains(schemes, u.Scheme) {
		p := &Problem{Seen: quote(s), Fault: "has a scheme that is not", Allowed: list(withSlashes(schemes))}
		if w := nearest(u.Scheme, schemes); w != "" {
			p.Hint = "did you mean " + w + "://?"
		}
		return p
	}
	if u.RawQuery != "" || u.ForceQuery || u.Fragment != "" {
		return &Problem{Fault: "has a part after ? or # that is not read (the address is not shown)", Hint: "end the address before it"}
	}
	if u.Hostname() == "" {
		return &Problem{Seen: quote(s), Fault: "names no host:", Allowed: allowed}
	}
	if u.Port() == "" {
		if slices.Contains(portless, u.Scheme) && !strings.HasSuffix(u.Host, ":") {
			return nil
		}
		return &Problem{Seen: quote(s), Fault: "names no port", Hint: "write " + u.Scheme + "://" + strings.TrimSuffix(u.Host, ":") + ":" + usualPort(u.Scheme)}
	}
	if n, err := strconv.Atoi(u.Port()); err != nil || n < 1 || n > 65535 {
		return &Problem{Seen: quote(s), Fault: "has a port outside", Allowed: "1 to 65535"}
	}
	return nil
}

// usualPort is where a service of the scheme mostly listens. Source: IANA Service Name and Transport Protocol Port
// Number Registry (mqtt 1883, secure-mqtt 8883, http 80, https 443); 8086 for the store is common practice, no source.
func usualPort(scheme string) string {
	switch scheme {
	case "tcp", "mqtt":
		return "1883"
	case "ssl", "tls", "mqtts":
		return "8883"
	case "wss":
		return "443"
	case "ws":
		return "80"
	}
	return "8086"
}

// isEncrypted tells whether a scheme encrypts.
func isEncrypted(scheme string) bool {
	return slices.Contains([]string{"ssl", "tls", "mqtts", "wss", "https"}, scheme)
}

func withSlashes(schemes []string) []string {
	out := make([]string, len(schemes))
	for i, s := range schemes {
		out[i] = s + "://"
	}
	return out
}
