package series

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	influxhttp "github.com/influxdata/influxdb-client-go/v2/api/http"

	"manobridge/publish"
)

// strict lets nothing but 204 pass for success. The client takes any 2xx for one: also the login page of a proxy.
type strict struct{ next http.RoundTripper }

// longestAnswer bounds what is read of an answer, in bytes.
const longestAnswer = 64 << 10

// RoundTrip is that of http.RoundTripper.
func (s strict) RoundTrip(req *http.Request) (*http.Response, error) {
	resp, err := s.next.RoundTrip(req)
	if err != nil {
		return nil, err
	}
	if resp.StatusCode != http.StatusNoContent && resp.StatusCode < 400 {
		_ = resp.Body.Close()
		return nil, &strangeAnswer{status: resp.Status, kind: resp.Header.Get("Content-Type"), location: resp.Header.Get("Location")}
	}
	resp.Body = bounded{io.LimitReader(resp.Body, longestAnswer), resp.Body}
	return resp, nil
}

type bounded struct {
	io.Reader
	io.Closer
}

// strangeAnswer is neither an acknowledgement nor a refusal.
type strangeAnswer struct{ status, kind, location string }

// Error gives the answer and what to look for.
func (e *strangeAnswer) Error() string {
	s := "the answer is " + e.status
	if e.kind != "" {
		s += " (" + e.kind + ")"
	}
	if e.location != "" {
		s += " to " + e.location
	}
	return s + ", want 204 No Content; something else than the store answers, as a login page or a proxy: check the url"
}

// judge says what a failed write means. A request that fails is not acknowledged in any part, though a store may have
// kept some of its points; they are the same points when written again.
func (s *Sink) judge(err error) *publish.DeliverError {
	wrap := func(class publish.Class, code string, after time.Duration) *publish.DeliverError {
		return &publish.DeliverError{Class: class, Code: code, After: after,
			Err: fmt.Errorf("write to bucket %s at %s: %w", s.bucket, s.host, err)}
	}
	var strange *strangeAnswer
	if errors.As(err, &strange) {
		return wrap(publish.Configuration, "series-not-a-store", 0)
	}
	var answer *influxhttp.Error
	if !errors.As(err, &answer) {
		return wrap(publish.Content, "series-point", 0) // the client could not write the points down
	}
	switch code := answer.StatusCode; {
	case code == 0:
		return wrap(publish.Transient, "series-unreachable", 0)
	case code == http.StatusTooManyRequests || code == http.StatusRequestTimeout || code >= 500:
		return wrap(publish.Transient, "series-busy", pause(answer))
	case code == http.StatusBadRequest || code == http.StatusRequestEntityTooLarge || code == http.StatusUnprocessableEntity:
		return wrap(publish.Content, "series-refused", 0)
	default: // 401, 403, 404 and what no store should say
		return wrap(publish.Configuration, "series-no-access", pause(answer))
	}
}

// pause gives what the store asks for in Retry-After: seconds, or a date. Source: RFC 9110, 10.2.3.
func pause(e *influxhttp.Error) time.Duration {
	if e.RetryAfter > 0 {
		return time.Duration(e.RetryAfter) * time.Second
	}
	at, err := http.ParseTime(e.Header.Get("Retry-After"))
	if err != nil {
		return 0
	}
	return max(0, time.Until(at))
}
