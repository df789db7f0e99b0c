// Package jetstream carries bundles in a stream of NATS JetStream. One stream has all bundles of
// a group, each as a message of
//
//	rindkeep.GROUP.PUBLISHER.SITE.EPOCH
//
// so that the servers can let each site publish below its own name alone, and a site can still
// pass on the bundles of others. The stream's sequence is a hint: servers that lose power give
// the same sequence twice.
package jetstream

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/nats-io/nats.go"
	api "github.com/nats-io/nats.go/jetstream"

	"rindkeep/cmd/carrier"
	"rindkeep/store/bundle"
)

// JetStream is a stream as a carrier of one group. It connects again by itself, however long the
// servers are away.
type JetStream struct {
	group, as uuid.UUID
	addr      address
	nc        *nats.Conn
	js        api.JetStream

	// Patience is how long one request may take. A leader is replaced within 5 s.
	Patience time.Duration
	// Reread is how long what is known of the stream is taken for true, unless the link broke.
	Reread time.Duration

	mu sync.Mutex
	carrier.Aside
	said    error                                 // by the servers, last
	running map[*context.CancelCauseFunc]bool     // requests that a refusal ends
	checked bool                                  // the stream's settings, since connecting
	known   map[string]last                       // by subject; nil: read it again
	aged    <-chan time.Time                      // tells that known is to be read again
	recent  []message                             // came by themselves, the oldest first
	bytes   int                                   // of recent
	news    chan struct{}                         // has one where something came
	watched context.CancelFunc                    // ends what fills recent; nil: nothing does
	at      map[string]struct{ last, seq uint64 } // how far Fetch came, by subject
}

// last is the last bundle of a subject.
type last struct {
	bundle.Head
	seq uint64
}

// message is a bundle that the stream sent.
type message struct {
	subject string
	seq     uint64
	head    bundle.Bundle
	raw     []byte
}

// mostRecent is how many bytes of bundles are kept until they're fetched: our choice.
const mostRecent = 8 << 20

// Open connects to the servers, for a few seconds; after that it goes on trying by itself, and
// every request says that they're away. The error is an address that can't be one.
func Open(ctx context.Context, text string, group, as uuid.UUID) (*JetStream, error) {
	a, err := parse(text)
	if err != nil {
		return nil, err
	}
	j := &JetStream{
		group: group, as: as, addr: a, Patience: 10 * time.Second, Reread: time.Minute,
		running: map[*context.CancelCauseFunc]bool{}, news: make(chan struct{}, 1),
		at: map[string]struct{ last, seq uint64 }{},
	}
	settled := make(chan struct{}) // it's connected, or the servers won't have it
	settle := sync.OnceFunc(func() { close(settled) })
	connected := func(*nats.Conn) {
		j.mu.Lock()
		j.said = nil
		j.mu.Unlock()
		j.stale()
		j.ring()
		settle()
	}
	j.nc, err = nats.Connect(a.servers, append(a.options,
		nats.Name("rindkeep "+as.String()), nats.Timeout(5*time.Second),
		// The client would give up for good after two minutes, or where a password was refused twice.
		nats.RetryOnFailedConnect(true), nats.MaxReconnects(-1), nats.IgnoreAuthErrorAbort(),
		nats.ReconnectBufSize(-1), // what can't be sent now is read from the book later
		nats.ConnectHandler(connected), nats.ReconnectHandler(connected),
		nats.ReconnectErrHandler(func(_ *nats.Conn, err error) {
			if j.hear(err); errors.Is(err, nats.ErrAuthorization) {
				settle()
			}
		}),
		nats.DisconnectErrHandler(func(_ *nats.Conn, err error) { j.hear(err) }),
		nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) { j.hear(err) }),
	)...)
	if err == nil {
		j.js, err = api.New(j.nc)
	}
	if err != nil {
		return nil, carrier.Trouble{Kind: carrier.Address, Place: a.place, Detail: err.Error()}
	}
	select {
	case <-settled:
	case <-ctx.Done():
	case <-time.After(j.Patience / 2):
	}
	return j, nil
}

// Close ends the connection.
func (j *JetStream) Close() error {
	j.stale()
	j.nc.Close()
	return nil
}

// stale forgets what was known of the stream.
func (j *JetStream) stale() {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.known, j.recent, j.bytes, j.checked = nil, nil, 0, false
	clear(j.at)
	if j.watched != nil {
		j.watched()
		j.watched = nil
	}
}

// ring wakes Wait.
func (j *JetStream) ring() {
	select {
	case j.news <- struct{}{}:
	default:
	}
}

// hear notes what the servers said by themselves. They don't answer what they don't permit: what
// runs would wait for its whole time.
func (j *JetStream) hear(err error) {
	if err == nil {
		return
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	j.said = err
	if errors.Is(err, nats.ErrPermissionViolation) {
		for cancel := range j.running {
			(*cancel)(err)
		}
	}
}

// do runs one request within its time, which begins again whenever it calls alive.
func (j *JetStream) do(ctx context.Context, fn func(ctx context.Context, alive func()) error) error {
	if !j.nc.IsConnected() {
		j.mu.Lock()
		defer j.mu.Unlock()
		return j.trouble(cmp.Or(j.said, nats.ErrDisconnected))
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	timer := time.AfterFunc(j.Patience, func() { cancel(nats.ErrTimeout) })
	defer timer.Stop()
	j.mu.Lock()
	j.running[&cancel] = true
	j.mu.Unlock()
	err := fn(ctx, func() { timer.Reset(j.Patience) })
	j.mu.Lock()
	defer j.mu.Unlock()
	delete(j.running, &cancel)
	if cause := context.Cause(ctx); err != nil && cause != nil {
		err = cause
	}
	return j.trouble(err)
}

// trouble is what went wrong, as trouble with the carrier.
func (j *JetStream) trouble(err error) error {
	var known carrier.Trouble
	if err == nil || errors.As(err, &known) || errors.Is(err, context.Canceled) {
		return err
	}
	t := carrier.Trouble{Kind: carrier.Away, Place: j.addr.place, Detail: err.Error()}
	var said *api.APIError
	switch {
	case errors.Is(err, nats.ErrPermissionViolation), errors.Is(err, nats.ErrAuthorization),
		errors.Is(err, nats.ErrAuthExpired), errors.Is(err, nats.ErrAuthRevoked):
		t.Kind = carrier.Refused
	case errors.Is(err, api.ErrStreamNotFound), errors.Is(err, api.ErrJetStreamNotEnabled),
		errors.Is(err, api.ErrJetStreamNotEnabledForAccount):
		t.Kind = carrier.Unprepared
	case errors.As(err, &said):
		t.Kind, t.Detail = carrier.Failed, said.Description
		switch said.ErrorCode {
		case api.JSErrCodeStreamWrongLastSequence, api.JSErrCodeStreamWrongLastSequenceConstant:
			t.Kind = carrier.Behind
		case noRoom, noStorage, noMemory:
			t.Kind = carrier.Full
		case noQuorum, noLeader:
			t.Kind = carrier.Away
		}
	}
	return t
}

// Codes of errors for which the client has no name (nats-server, server/errors.json).
const (
	noMemory  = 10023 // insufficient resources
	noStorage = 10047 // insufficient storage resources available
	noRoom    = 10077 // the stream has its most bytes or messages
	noLeader  = 10008 // JetStream system temporarily unavailable
	noQuorum  = 10074 // no suitable peers for placement
)

func (j *JetStream) fault(kind carrier.Kind, what, detail string) {
	j.Note(carrier.Trouble{Kind: kind, Place: j.addr.place, What: what, Detail: detail})
}

// Stream is the name of a group's stream.
func Stream(group uuid.UUID) string { return "rindkeep-" + group.String() }

// subject is what a site publishes a chain's bundles as. "*" stands for all.
func (j *JetStream) subject(publisher, site, epoch string) string {
	return strings.Join([]string{"rindkeep", j.group.String(), publisher, site, epoch}, ".")
}

// chainOf is the chain that a subject is of; ok is false unless subject() gives the same.
func (j *JetStream) chainOf(subject string) (site, epoch uuid.UUID, ok bool) {
	words := strings.Split(subject, ".")
	if len(words) != 5 {
		return site, epoch, false
	}
	site, err := uuid.Parse(words[3])
	epoch, eerr := uuid.Parse(words[4])
	return site, epoch, err == nil && eerr == nil &&
		j.subject(words[2], site.String(), epoch.String()) == subject
}

// Prepare makes the group's stream, if it isn't there. That takes more permissions than a site needs.
func (j *JetStream) Prepare(ctx context.Context) error {
	replicas := j.addr.replicas
	if replicas == 0 {
		replicas = 1
		if j.nc.ConnectedClusterName() != "" {
			replicas = 3
		}
	}
	err := j.do(ctx, func(ctx context.Context, _ func()) error {
		_, err := j.js.Stream(ctx, Stream(j.group))
		if !errors.Is(err, api.ErrStreamNotFound) {
			return err
		}
		_, err = j.js.CreateStream(ctx, api.StreamConfig{
			Name: Stream(j.group), Description: "bundles of rindkeep's books",
			Subjects: []string{j.subject("*", "*", "*")},
			Storage:  api.FileStorage, Replicas: replicas,
			Retention: api.LimitsPolicy, Discard: api.DiscardNew,
			DenyDelete: true, DenyPurge: true, AllowDirect: true,
		})
		return err
	})
	if err != nil {
		return err
	}
	return j.do(ctx, func(ctx context.Context, _ func()) error { return j.check(ctx) })
}

// check names the settings with which the stream may lose bundles, once in each connection.
func (j *JetStream) check(ctx context.Context) error {
	j.mu.Lock()
	done := j.checked
	j.checked = true
	j.mu.Unlock()
	if done {
		return nil
	}
	s, err := j.js.Stream(ctx, Stream(j.group))
	if err != nil {
		j.stale()
		return err
	}
	c := s.CachedInfo().Config
	clustered := s.CachedInfo().Cluster != nil && s.CachedInfo().Cluster.Name != ""
	for _, wrong := range []struct {
		is    bool
		what  string
		value any
	}{
		{c.Storage != api.FileStorage, "storage", c.Storage},
		{c.Retention != api.LimitsPolicy, "retention", c.Retention},
		{c.MaxAge != 0, "max_age", c.MaxAge},
		{c.Discard != api.DiscardNew, "discard", c.Discard},
		{c.MaxMsgsPerSubject > 0, "max_msgs_per_subject", c.MaxMsgsPerSubject},
		{c.MaxMsgSize > 0 && c.MaxMsgSize < bundle.MostRaw+mostHeader, "max_msg_size", c.MaxMsgSize},
		{clustered && c.Replicas < 3, "num_replicas", c.Replicas},
		{!j.addr.synced, "sync_interval", "?"},
	} {
		if wrong.is {
			j.fault(carrier.Settings, wrong.what, fmt.Sprint(wrong.value))
		}
	}
	return nil
}
