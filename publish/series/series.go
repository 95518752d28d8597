// Package series is a sink for time-series stores that take line protocol through the version 2 write interface.
//
// One result is one point of the measurement "manometer", tagged with site and instrument, every field a float64, at
// the time the reading was taken. What a result does not have is left out of the point; its status is always there. A
// point written twice is the same point, so a repeat does no harm in a store that keeps one value for each time.
//
// The package refuses to take any answer but 204 No Content for an acknowledgement (a login page answers 200 as well),
// to follow a redirect, to let the store put its own time on a point, and to retry: that is the outbox's.
package series

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api"
	influxhttp "github.com/influxdata/influxdb-client-go/v2/api/http"
	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"manobridge/publish"
)

// Measurement is the name of every point.
const Measurement = "manometer"

// Largest is how many points one request carries at most. The makers of a store advise 5000 (InfluxData, InfluxDB OSS v2
// documentation, "Optimize writes", from memory); 2000 are delivered as fast, and fewer rows are in memory.
const Largest = 2000

// Options say where to write. URL, Bucket and Site must be set.
type Options struct {
	URL    string // http or https, host and port; a path is kept
	Org    string // may be empty where the store has none
	Bucket string
	Token  string // empty: none is sent
	Site   string // tag of every point; letters, digits, "_", ".", "-"

	// ReadURL is where what was written is read back; default URL.
	ReadURL string

	// Timeout bounds one request with its answer; default 20 s.
	Timeout time.Duration
	TLS     *tls.Config  // nil: the machine's authorities
	Logger  *slog.Logger // default: none
}

// Sink writes to one bucket. It is safe for concurrent use. Close it after the outbox.
type Sink struct {
	site      string
	bucket    string
	host      string
	api       api.WriteAPIBlocking
	transport *http.Transport

	// For reading back.
	org, authorization, readURL, readHost string
	reading                               *http.Client
	mu                                    sync.Mutex
	ask                                   question // nil until the store has said what it is
}

// word is what line protocol carries unharmed as a tag. A tag that ends in a backslash makes a line no store can read.
var word = regexp.MustCompile(`^[A-Za-z0-9_.-]+$`)

// New makes a sink. It opens no connection; whether the store is there shows at the first delivery.
func New(opt Options) (*Sink, error) {
	if opt.ReadURL == "" {
		opt.ReadURL = opt.URL
	}
	base, err := url.Parse(opt.URL)
	read, err2 := url.Parse(opt.ReadURL)
	switch {
	case err != nil:
		return nil, errors.New("series: the url cannot be read; allowed: http:// or https:// with host and port") // it may hold a password
	case base.Scheme != "http" && base.Scheme != "https" || base.Host == "":
		return nil, fmt.Errorf("series: url %q; allowed: http:// or https:// with host and port", base.Redacted())
	case base.RawQuery != "" || base.Fragment != "":
		return nil, fmt.Errorf("series: url %q has a query; allowed: scheme, host, port and path", base.Redacted())
	case err2 != nil || read.Scheme != "http" && read.Scheme != "https" || read.Host == "" || read.RawQuery != "" || read.Fragment != "":
		return nil, errors.New("series: the url to read back from; allowed: http:// or https:// with host, port and path")
	case opt.Bucket == "":
		return nil, errors.New("series: no bucket given")
	case !word.MatchString(opt.Site):
		return nil, fmt.Errorf("series: site %q; allowed: letters, digits, _ . -", opt.Site)
	}
	if opt.Timeout <= 0 {
		opt.Timeout = 20 * time.Second
	}
	if opt.Logger == nil {
		opt.Logger = slog.New(slog.DiscardHandler)
	}
	s := &Sink{site: opt.Site, bucket: opt.Bucket, host: base.Host}
	s.transport = &http.Transport{
		Proxy:                 http.ProxyFromEnvironment,
		DialContext:           (&net.Dialer{Timeout: min(opt.Timeout, 5*time.Second)}).DialContext,
		TLSHandshakeTimeout:   min(opt.Timeout, 5*time.Second),
		ResponseHeaderTimeout: opt.Timeout,
		TLSClientConfig:       opt.TLS,
		MaxIdleConnsPerHost:   2,
		IdleConnTimeout:       90 * time.Second,
	}
	doer := &http.Client{
		Timeout:       opt.Timeout,
		Transport:     strict{newSqueeze(s.transport)},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	s.reading = &http.Client{Timeout: opt.Timeout, Transport: s.transport, CheckRedirect: doer.CheckRedirect}
	authorization := ""
	if opt.Token != "" {
		authorization = "Token " + opt.Token
	}
	s.org, s.authorization, s.readURL, s.readHost = opt.Org, authorization, strings.TrimSuffix(opt.ReadURL, "/"), read.Host
	// The service is made without the client around it, because that one sets the level of a logger all clients of
	// the process share.
	service := influxhttp.NewService(strings.TrimSuffix(opt.URL, "/")+"/", authorization,
		influxhttp.DefaultOptions().SetHTTPDoer(doer).SetApplicationName("manobridge"))
	s.api = api.NewWriteAPIBlocking(opt.Org, opt.Bucket, service,
		write.DefaultOptions().SetPrecision(time.Nanosecond).SetMaxRetries(0))
	opt.Logger.Debug("time-series store", "url", base.Redacted(), "org", opt.Org, "bucket", opt.Bucket)
	return s, nil
}

// Name is that of publish.Sink.
func (s *Sink) Name() string { return "series" }

// Close ends the idle connections.
func (s *Sink) Close() error {
	s.transport.CloseIdleConnections()
	return nil
}

// Deliver is that of publish.Sink. It writes the batch in requests of at most Largest points.
func (s *Sink) Deliver(ctx context.Context, batch []publish.Row) error {
	for done := 0; done < len(batch); done += Largest {
		part := batch[done:min(len(batch), done+Largest)]
		if err := s.write(ctx, part); err != nil {
			err.Acked = done
			return err
		}
	}
	return nil
}

func (s *Sink) write(ctx context.Context, rows []publish.Row) *publish.DeliverError {
	points := make([]*write.Point, len(rows))
	for i := range rows {
		p, err := s.point(&rows[i])
		if err != nil {
			return &publish.DeliverError{Class: publish.Content, Code: "series-point", Err: err}
		}
		points[i] = p
	}
	if err := s.api.WritePoint(ctx, points...); err != nil {
		return s.judge(err)
	}
	return nil
}
