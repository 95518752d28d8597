package publishtest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// Certificates makes an authority and two pairs it signed; each is the path without .crt and .key.
func Certificates(t testing.TB) (ca, server, client string) {
	t.Helper()
	dir := t.TempDir()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	var authority *x509.Certificate
	var authorityKey *ecdsa.PrivateKey
	make := func(name string, serial int64) string {
		key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
		must(err)
		c := &x509.Certificate{SerialNumber: big.NewInt(serial), Subject: pkix.Name{CommonName: name},
			NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
			IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
			ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth}}
		if authority == nil {
			c.IsCA, c.BasicConstraintsValid, c.KeyUsage, c.ExtKeyUsage = true, true, x509.KeyUsageCertSign, nil
			authority, authorityKey = c, key
		}
		der, err := x509.CreateCertificate(rand.Reader, c, authority, &key.PublicKey, authorityKey)
		must(err)
		private, err := x509.MarshalECPrivateKey(key)
		must(err)
		path := filepath.Join(dir, name)
		must(os.WriteFile(path+".crt", pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
		must(os.WriteFile(path+".key", pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: private}), 0o600))
		return path
	}
	ca = make("authority", 1) + ".crt"
	return ca, make("broker", 2), make("bridge", 3)
}
