package control

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
)

// The bounds. A request may hold a whole configuration, of at most 1 MiB, as a JSON string.
const (
	largestRequest = 3 << 20
	mostAtOnce     = 64
	readWithin     = 10 * time.Second
	closeWithin    = 2 * time.Second
	longestWhy     = 1024
)

// path of every request.
const path = "/request"

// Server answers requests on one socket.
type Server struct {
	socket   string
	log      *slog.Logger
	handlers map[string]Handler
	listener net.Listener
	places   chan struct{}
	working  sync.WaitGroup
}

// NewServer makes a server that listens nowhere yet.
func NewServer(socket string, log *slog.Logger) *Server {
	return &Server{socket: socket, log: log, handlers: map[string]Handler{}, places: make(chan struct{}, mostAtOnce)}
}

// Handle registers what is done for requests of a name. Register before Run; a name is taken once.
func (s *Server) Handle(name string, h Handler) error {
	if _, taken := s.handlers[name]; taken {
		return fmt.Errorf("control: the request %q is registered twice", name)
	}
	s.handlers[name] = h
	return nil
}

// Open makes the socket, for its owner and group alone. One that is left from a program that ended is replaced; one on
// which somebody answers is not.
func (s *Server) Open() error {
	l, err := net.Listen("unix", s.socket)
	if errors.Is(err, errAddressInUse) {
		if err := s.removeStale(); err != nil {
			return err
		}
		l, err = net.Listen("unix", s.socket)
	}
	if err != nil {
		return fmt.Errorf("open the control socket %s: %w", s.socket, err)
	}
	// Until here only the owner may connect, whatever the umask leaves: connecting needs the right to write.
	if err := os.Chmod(s.socket, 0o660); err != nil {
		return errors.Join(fmt.Errorf("open the control socket: %w", err), l.Close())
	}
	s.listener = l
	return nil
}

func (s *Server) removeStale() error {
	info, err := os.Lstat(s.socket)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("open the control socket: %w", err)
	}
	if info.Mode().Type() != fs.ModeSocket {
		return fmt.Errorf("open the control socket: %s is there and is no socket; move it, or state another operate.socket", s.socket)
	}
	c, err := net.DialTimeout("unix", s.socket, time.Second)
	if err == nil {
		return errors.Join(fmt.Errorf("open the control socket: another program answers on %s; stop it, or state another operate.socket", s.socket), c.Close())
	}
	if !errors.Is(err, errRefused) {
		return fmt.Errorf("open the control socket: %s is there, and whether somebody answers cannot be told: %w", s.socket, err)
	}
	return os.Remove(s.socket)
}

// Run answers until ctx ends, then ends what is being answered and takes the socket away.
func (s *Server) Run(ctx context.Context) error {
	server := &http.Server{
		Handler:           http.HandlerFunc(s.serve),
		ReadHeaderTimeout: readWithin,
		IdleTimeout:       time.Minute,
		MaxHeaderBytes:    16 << 10,
		BaseContext:       func(net.Listener) context.Context { return ctx },
		ConnContext: func(ctx context.Context, c net.Conn) context.Context {
			return context.WithValue(ctx, userKey{}, userOf(c))
		},
		ErrorLog: slog.NewLogLogger(s.log.Handler(), slog.LevelDebug),
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(s.listener) }()
	select {
	case err := <-ended:
		s.working.Wait()
		return fmt.Errorf("control socket: %w", err)
	case <-ctx.Done():
	}
	within, cancel := context.WithTimeout(context.WithoutCancel(ctx), closeWithin)
	defer cancel()
	err := server.Shutdown(within)
	if errors.Is(err, context.DeadlineExceeded) {
		err = server.Close()
	}
	<-ended
	s.working.Wait()
	return err
}

type userKey struct{}

func (s *Server) serve(w http.ResponseWriter, r *http.Request) {
	s.working.Add(1)
	defer s.working.Done()
	answer := s.answer(w, r)
	w.Header().Set("Content-Type", "application/json")
	if !answer.Done {
		w.WriteHeader(http.StatusUnprocessableEntity)
	}
	_ = json.NewEncoder(w).Encode(answer) // the one who asked may have gone
}

func (s *Server) answer(w http.ResponseWriter, r *http.Request) Answer {
	if r.URL.Path != path || r.Method != http.MethodPost {
		return Refuse(CodeNoRequest, "requests are sent to POST %s", path)
	}
	select {
	case s.places <- struct{}{}:
		defer func() { <-s.places }()
	default:
		return Refuse(CodeBusy, "%d requests are being answered; nothing was done; try again", mostAtOnce)
	}
	c := http.NewResponseController(w)
	if err := c.SetReadDeadline(time.Now().Add(readWithin)); err != nil {
		return Refuse(CodeFailed, "%v", err)
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, largestRequest))
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return Refuse(CodeTooLarge, "the request has more than %d bytes; nothing was done", large.Limit)
	}
	if err != nil {
		return Refuse(CodeMalformed, "the request could not be read: %v", err)
	}
	// What is done may take longer; only that the asker goes ends it.
	if err := c.SetReadDeadline(time.Time{}); err != nil {
		return Refuse(CodeFailed, "%v", err)
	}
	var q Request
	if err := json.Unmarshal(body, &q); err != nil {
		return Refuse(CodeMalformed, "the request is no JSON object of the known form: %v", err)
	}
	h := s.handlers[q.Name]
	if h == nil {
		return Refuse(CodeNoRequest, "this bridge knows no request %.64q; it knows %s", q.Name, strings.Join(s.names(), ", "))
	}
	if len(q.Why) > longestWhy {
		return Refuse(CodeNoWhy, "why has %d bytes; allowed: %d", len(q.Why), longestWhy)
	}
	q.User, _ = r.Context().Value(userKey{}).(string)
	return h(r.Context(), q)
}

func (s *Server) names() []string {
	var out []string
	for name := range s.handlers {
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}
