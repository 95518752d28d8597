package mqtt

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io/fs"
	"log/slog"
	"net/url"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// news says each change of the connection once. It belongs to Run.
type news struct {
	log      *slog.Logger
	broker   string
	clientID string
	reach    string // what to check where the broker is not reached

	down   time.Time // since when there is no connection; zero while there is one
	said   string    // the last code said since then
	short  int       // connections in a row that the far end closed soon after they were made
	thrown bool      // that was said

	drops        bool // canaries do not come back
	blind        bool // the broker does not let the bridge subscribe
	unsubscribes int  // connections in a row lost while subscribing
}

const (
	// thrownOut is how many short connections in a row are no accident.
	thrownOut = 4
	// subscribeTries is how many connections may be lost while subscribing before it is given up.
	subscribeTries = 3
)

func newNews(log *slog.Logger, broker *url.URL, clientID string) *news {
	n := &news{log: log, broker: broker.Host, clientID: clientID, reach: "network, broker, and host and port in url"}
	switch broker.Scheme {
	case "ssl", "tls", "mqtts", "wss":
		// A broker that misses it may end the connection before its reason can be read.
		n.reach += "; if the broker asks for a certificate, cert_file and key_file"
	}
	return n
}

func (n *news) start(now time.Time) { n.down = now }

func (n *news) isUp() bool { return n.down.IsZero() }

// up notes that the connection is made.
func (n *news) up(now time.Time) {
	down, said := n.down, n.said
	n.down, n.said = time.Time{}, ""
	switch {
	case n.thrown:
	case said == "":
		n.log.Info("connected to the broker", "code", "broker-up", "broker", n.broker)
	default:
		n.log.Info("connected to the broker again; what was kept is delivered now", "code", "broker-up", "broker", n.broker,
			"outage_s", seconds(now.Sub(down)))
	}
}

// failed notes that a connection could not be made; check is what to check where it was refused.
func (n *news) failed(err error, check string, now time.Time) {
	code := "broker-down"
	if check != "" {
		code = "broker-refused"
	}
	if n.down.IsZero() {
		n.down = now
	}
	if n.said == code {
		return
	}
	n.said = code
	if check != "" {
		n.log.Error("the broker does not let this bridge in; results are kept and it is tried again slowly; "+check,
			"code", code, "broker", n.broker, "error", err)
		return
	}
	n.log.Warn("the broker cannot be reached; results are kept and delivered when it answers; "+
		"check "+n.reach, "code", code, "broker", n.broker, "error", err)
}

// lost notes that a connection that was made at began is gone.
func (n *news) lost(why error, byPeer bool, began, now time.Time) {
	if n.down.IsZero() {
		n.down = now
	}
	if byPeer && now.Sub(began) < steady {
		n.short++
	} else {
		n.short, n.thrown = 0, false
	}
	if n.thrown {
		return
	}
	said := n.said
	n.said = "broker-down"
	if n.short >= thrownOut {
		n.thrown = true
		n.log.Error("the broker ends the connection again and again soon after it is made; results are kept and it is "+
			"tried again; check that no other client uses this client_id, then the rights of this user at the broker and the broker's "+
			"limit on the size of a message; a result that it ends the connection over again and again is put aside",
			"code", "client-id-taken", "broker", n.broker, "connections", n.short, "client_id", n.clientID, "error", why)
		return
	}
	if said == n.said {
		return
	}
	n.log.Warn("the connection to the broker is lost; results are kept and delivered when it is back; "+
		"check network and broker", "code", "broker-down", "broker", n.broker, "error", why)
}

// stands notes that the connection has lasted.
func (n *news) stands() {
	if n.thrown {
		n.log.Info("the connection to the broker stays up again", "code", "broker-up", "broker", n.broker)
	}
	n.short, n.thrown = 0, false
}

// canary notes whether one came back in time.
func (n *news) canary(back bool) {
	switch {
	case !back && !n.drops:
		n.log.Error("the broker acknowledges messages and does not hand them on: a message of this bridge to itself did "+
			"not come back; results may be lost there; check that this user may write under the topic prefix and read "+
			"the bridge's own canary topic", "code", "broker-drops", "broker", n.broker)
	case back && n.drops:
		n.log.Info("the broker hands messages on again", "code", "broker-hands-on", "broker", n.broker)
	}
	n.drops = !back
}

func (n *news) subscribed() { n.unsubscribes = 0 }

// unsubscribed notes that a connection was lost while subscribing.
func (n *news) unsubscribed(byPeer bool) {
	if n.unsubscribes++; byPeer && n.unsubscribes >= subscribeTries {
		n.denied()
	}
}

// denied says that nothing can be checked.
func (n *news) denied() {
	if n.blind {
		return
	}
	n.blind = true
	n.log.Info("the broker does not let this bridge subscribe to its own canary topic; results go out, and whether the "+
		"broker hands them on cannot be checked", "code", "canary-denied", "broker", n.broker)
}

func seconds(d time.Duration) float64 { return d.Round(100 * time.Millisecond).Seconds() }

// refusal tells what to check where the broker, or our own settings, do not let the bridge in; "" where the broker is
// only not to be reached.
func refusal(err error) string {
	var (
		authority x509.UnknownAuthorityError
		host      x509.HostnameError
		invalid   x509.CertificateInvalidError
		record    tls.RecordHeaderError
		alert     tls.AlertError
		file      *fs.PathError
	)
	switch {
	case errors.Is(err, packets.ErrorRefusedBadUsernameOrPassword), errors.Is(err, packets.ErrorRefusedNotAuthorised):
		return "check username and password, and that this user may write under the topic prefix, the bridge's presence first"
	case errors.Is(err, packets.ErrorRefusedIDRejected):
		return "check client_id"
	case errors.Is(err, packets.ErrorRefusedBadProtocolVersion):
		return "the broker does not speak MQTT 3.1.1; check that it is set to"
	case errors.As(err, &authority), errors.As(err, &host), errors.As(err, &invalid):
		return "the broker's certificate is not trusted; check ca_file, and the host name in url"
	case errors.As(err, &record):
		return "what answers does not encrypt; check scheme and port in url"
	case errors.As(err, &alert):
		return "the broker ended the encryption; if the broker asks for a certificate, check cert_file and key_file"
	case errors.As(err, &file):
		return "check ca_file, cert_file and key_file"
	}
	return ""
}
