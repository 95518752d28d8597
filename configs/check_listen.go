package configs

import (
	"net"
	"net/netip"
	"strconv"
)

// listening holds the listening address against who would reach it.
func (k *checker) listening() {
	o := k.c.Operate
	const at = "operate.listen"
	if o.Listen == "" || k.bad(at) {
		return
	}
	const allowed = "an address and a port, as 127.0.0.1:9464"
	host, port, err := net.SplitHostPort(o.Listen)
	if n, bad := strconv.Atoi(port); err != nil || bad != nil || n < 1 || n > 65535 {
		k.report(at, Problem{Seen: quote(o.Listen), Fault: "is not", Allowed: allowed})
		return
	}
	address, err := netip.ParseAddr(host)
	if err != nil && host != "localhost" && host != "" {
		k.report(at, Problem{Seen: quote(o.Listen), Fault: "is not", Allowed: allowed, Hint: "write the number of the address, not a name"})
		return
	}
	if host != "localhost" && !address.IsLoopback() && !o.ListenAnywhere {
		k.report(at, Problem{Seen: quote(o.Listen), Fault: "is reached by other machines, without a password",
			Hint: "write 127.0.0.1:" + port + ", or allow it with listen_anywhere: true"})
	}
}
