package operate

import (
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
)

// AskHealth asks the bridge that listens at an address how it is. One that listens everywhere is asked on this machine.
func AskHealth(address string) (h Health, err error) {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return h, err
	}
	if a, err := netip.ParseAddr(host); host == "" || err == nil && a.IsUnspecified() {
		host = "localhost"
	}
	client := http.Client{Timeout: headerWithin, Transport: &http.Transport{DisableKeepAlives: true}}
	answer, err := client.Get("http://" + net.JoinHostPort(host, port) + "/healthz")
	if err != nil {
		return h, err
	}
	defer answer.Body.Close() // read only: nothing can be lost
	if answer.StatusCode != http.StatusOK && answer.StatusCode != http.StatusServiceUnavailable {
		return h, fmt.Errorf("what answers at %s says %s: it is another program", address, answer.Status)
	}
	if err := json.NewDecoder(io.LimitReader(answer.Body, 64<<10)).Decode(&h); err != nil || h.Status == "" {
		return h, fmt.Errorf("what answers at %s is another program", address)
	}
	return h, nil
}
