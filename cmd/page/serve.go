package page

import (
	"context"
	"crypto/tls"
	"errors"
	"log"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"rindkeep/cmd/app"
)

// Serve answers on l until ctx ends: then nothing new is taken, what runs is
// finished, within a limit, and whole is true where all of it was. Without a
// certificate it speaks plain HTTP.
func (s *Server) Serve(ctx context.Context, l net.Listener,
	certificate func(*tls.ClientHelloInfo) (*tls.Certificate, error)) (whole bool, err error) {
	h := &http.Server{
		Handler:           s.Handler(),
		ReadHeaderTimeout: s.limits.header, ReadTimeout: s.limits.read, WriteTimeout: s.limits.write,
		IdleTimeout:    s.limits.idle,
		MaxHeaderBytes: s.limits.head,
		ErrorLog:       log.New(mutter{s}, "", 0),
		// A request that runs when the server is told to stop is finished.
		BaseContext: func(net.Listener) context.Context { return context.WithoutCancel(ctx) },
	}
	l = newCrowd(l, s.limits.open, s.limits.openEach, s.opt.Now, func(from string) {
		s.opt.Log.Warn().Str("from", from).Msg("too many connections: more are turned away")
	})
	h.RegisterOnShutdown(s.live.Stop)
	var stopping sync.WaitGroup
	over := make(chan struct{})
	stopping.Go(func() {
		select {
		case <-over:
			return
		case <-ctx.Done():
		}
		limit, cancel := context.WithTimeout(context.WithoutCancel(ctx), s.limits.stop)
		defer cancel()
		whole = h.Shutdown(limit) == nil
		_ = h.Close()
	})
	if certificate != nil {
		h.TLSConfig = &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: certificate}
		err = h.ServeTLS(l, "", "")
	} else {
		err = h.Serve(l)
	}
	close(over)
	stopping.Wait()
	s.Close()
	if errors.Is(err, http.ErrServerClosed) {
		err = nil
	}
	return whole, err
}

// mutter takes what net/http has to say of connections that came to nothing.
type mutter struct{ s *Server }

func (m mutter) Write(b []byte) (int, error) {
	m.s.opt.Log.Debug().Msg(strings.TrimSpace(string(b)))
	return len(b), nil
}

// health remembers for a moment whether the book opens: a monitor that watches over
// the program may ask often, and anybody may.
type health struct {
	mu  sync.Mutex
	at  time.Time
	err error
	any bool
}

const healthKept = 2 * time.Second

func (s *Server) serveHealth(w http.ResponseWriter, r *http.Request) {
	h := &s.health
	h.mu.Lock()
	defer h.mu.Unlock()
	now := s.opt.Now()
	if !h.any || now.Sub(h.at) >= healthKept || now.Before(h.at) {
		h.err, h.at, h.any = s.opt.App.Check(context.WithoutCancel(r.Context())), now, true
	}
	if h.err != nil {
		// Anybody may ask: no names of files.
		exit := app.AsRefusal(h.err).Kind.Exit()
		s.say(w, http.StatusServiceUnavailable, Refusal{Error: "the book can't be opened", Exit: exit})
		return
	}
	sendJSON(w, http.StatusOK, []byte(`{"status":"ok"}`+"\n"))
}

// serveAuthority hands out the authority for a phone to trust. It is public; the
// fingerprint is what makes sure of it.
func (s *Server) serveAuthority(w http.ResponseWriter, r *http.Request) {
	if s.opt.Authority == nil {
		s.noSuchPage(w, r)
		return
	}
	w.Header().Set("Content-Type", "application/x-x509-ca-cert")
	_, _ = w.Write(s.opt.Authority())
}
