package mqtt

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"strings"
	"syscall"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// TLS names the certificates of an encrypted connection, all in PEM.
type TLS struct {
	CAFile            string // of the authorities that are trusted; empty: those of the machine
	CertFile, KeyFile string // this bridge's own; both or none
}

// config reads the files.
func (t TLS) config() (*tls.Config, error) {
	c := &tls.Config{MinVersion: tls.VersionTLS12}
	if t.CAFile != "" {
		pem, err := os.ReadFile(t.CAFile)
		if err != nil {
			return nil, fmt.Errorf("read the trusted certificates: %w", err)
		}
		c.RootCAs = x509.NewCertPool()
		if !c.RootCAs.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("read the trusted certificates: no certificate in %s; allowed: PEM", t.CAFile)
		}
	}
	if (t.CertFile == "") != (t.KeyFile == "") {
		return nil, errors.New("a certificate of the bridge needs its key, and the key its certificate")
	}
	if t.CertFile != "" {
		pair, err := tls.LoadX509KeyPair(t.CertFile, t.KeyFile)
		if err != nil {
			return nil, fmt.Errorf("read the certificate of the bridge: %w", err)
		}
		c.Certificates = []tls.Certificate{pair}
	}
	return c, nil
}

// dial opens the network connection. It ends early when ctx is done, but for ws and wss.
func dial(ctx context.Context, u *url.URL, secure *tls.Config) (net.Conn, error) {
	plain := &net.Dialer{Timeout: connectWithin}
	switch u.Scheme {
	case "ws", "wss":
		return paho.NewWebsocket(u.String(), secure, connectWithin, nil, nil)
	case "ssl", "tls", "mqtts":
		ctx, cancel := context.WithTimeout(ctx, connectWithin) // for the handshake as well
		defer cancel()
		return (&tls.Dialer{NetDialer: plain, Config: secure}).DialContext(ctx, "tcp", u.Host)
	}
	return plain.DialContext(ctx, "tcp", u.Host)
}

// closedByPeer tells a connection that was closed from the far end from one that fell silent or that we ended.
func closedByPeer(err error) bool {
	return errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) ||
		errors.Is(err, syscall.ECONNRESET) || errors.Is(err, syscall.EPIPE) ||
		strings.HasPrefix(err.Error(), "websocket: close ")
}
