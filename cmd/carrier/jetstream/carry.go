package jetstream

import (
	"cmp"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"
	"github.com/nats-io/nats.go"
	api "github.com/nats-io/nats.go/jetstream"

	"rindkeep/cmd/carrier"
	"rindkeep/store/bundle"
)

// What a message's headers say of its bundle, so that the ends of all chains can be read without
// their bundles: a hint, like the carrier's every word.
const (
	lastHeader  = "Rindkeep-Last"
	afterHeader = "Rindkeep-After"
	mostHeader  = 400 // bytes of headers, with the server's own
)

// Put publishes a bundle, and returns when the servers say that they have it. If another process
// published on the same subject meanwhile, or the stream lost something, the bundle is Behind.
// Message IDs aren't used: the servers forget them, and the expected last sequence stops a
// repeat for good.
func (j *JetStream) Put(ctx context.Context, raw []byte) error {
	b, err := bundle.Peek(raw)
	if err != nil || b.Group != j.group {
		return errors.Join(bundle.ErrForm, err)
	}
	known, err := j.read(ctx)
	if err != nil {
		return err
	}
	subject := j.subject(j.as.String(), b.Site.String(), b.Epoch.String())
	was := known[subject]
	if was.Head == b.Head() {
		return nil // it came before: its acknowledgement was lost
	}
	m := nats.NewMsg(subject)
	m.Data = raw
	m.Header.Set(lastHeader, strconv.FormatUint(b.Last, 10))
	m.Header.Set(afterHeader, hex.EncodeToString(b.After[:]))
	err = j.do(ctx, func(ctx context.Context, _ func()) error {
		ack, err := j.js.PublishMsg(ctx, m, api.WithExpectStream(Stream(j.group)),
			api.WithExpectLastSequencePerSubject(was.seq))
		if err == nil {
			j.learn(subject, last{b.Head(), ack.Sequence})
		}
		return err
	})
	if err != nil {
		j.stale() // the bundle may be there, or not
	}
	return err
}

// learn notes the last bundle of a subject.
func (j *JetStream) learn(subject string, l last) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.known != nil && j.known[subject].seq < l.seq {
		known := maps.Clone(j.known)
		known[subject] = l
		j.known = known
	}
}

// read gives the last bundle of each subject: as known, or from the servers.
func (j *JetStream) read(ctx context.Context) (map[string]last, error) {
	j.mu.Lock()
	known, old := j.known, false
	select {
	case <-j.aged:
		old = true
	default:
	}
	j.mu.Unlock()
	if known != nil && !old {
		return known, nil
	}
	if old {
		j.stale() // what fills recent may have gone deaf, if the stream was set back
	}
	known = map[string]last{}
	err := j.do(ctx, func(ctx context.Context, _ func()) error {
		if err := j.check(ctx); err != nil {
			return err
		}
		if err := j.watch(ctx); err != nil { // first, so that nothing comes between
			return err
		}
		return j.each(ctx, api.OrderedConsumerConfig{
			DeliverPolicy: api.DeliverLastPerSubjectPolicy, HeadersOnly: true,
			FilterSubjects: []string{j.subject("*", "*", "*")},
		}, func(m api.Msg, seq uint64) error {
			if h, ok := j.headOf(m); ok {
				known[m.Subject()] = last{h, seq}
			} else {
				j.fault(carrier.ForeignPart, m.Subject(), strconv.FormatUint(seq, 10))
			}
			return nil
		})
	})
	if err != nil {
		j.stale()
		return nil, err
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	for _, m := range j.recent {
		if known[m.subject].seq < m.seq {
			known[m.subject] = last{m.head.Head(), m.seq}
		}
	}
	j.known, j.aged = known, time.After(j.Reread)
	return known, nil
}

// headOf is what a message's subject and headers say.
func (j *JetStream) headOf(m api.Msg) (h bundle.Head, ok bool) {
	h.Site, h.Epoch, ok = j.chainOf(m.Subject())
	number, err := strconv.ParseUint(m.Headers().Get(lastHeader), 10, 64)
	hash, herr := hex.DecodeString(m.Headers().Get(afterHeader))
	h.Number = number
	copy(h.Hash[:], hash)
	return h, ok && err == nil && herr == nil && len(hash) == len(h.Hash)
}

// each gives the messages that are there now.
func (j *JetStream) each(ctx context.Context, c api.OrderedConsumerConfig, fn func(api.Msg, uint64) error) error {
	c.MaxResetAttempts, c.InactiveThreshold = 1, 10*time.Second
	consumer, err := j.js.OrderedConsumer(ctx, Stream(j.group), c)
	if err != nil || consumer.CachedInfo().NumPending == 0 {
		return err
	}
	messages, err := consumer.Messages(api.PullMaxBytes(4 * bundle.MostRaw))
	if err != nil {
		return err
	}
	defer messages.Stop()
	for {
		m, err := messages.Next(api.NextContext(ctx))
		if err != nil {
			return err
		}
		about, err := m.Metadata()
		if err == nil {
			err = fn(m, about.Sequence.Stream)
		}
		if err != nil || about.NumPending == 0 {
			return err
		}
	}
}

// watch has the servers send each new bundle by itself, until the link breaks.
func (j *JetStream) watch(ctx context.Context) error {
	consumer, err := j.js.OrderedConsumer(ctx, Stream(j.group), api.OrderedConsumerConfig{
		DeliverPolicy: api.DeliverNewPolicy, FilterSubjects: []string{j.subject("*", "*", "*")},
		InactiveThreshold: time.Minute, MaxResetAttempts: 1,
	})
	if err != nil {
		return err
	}
	messages, err := consumer.Messages(api.PullMaxBytes(4 * bundle.MostRaw))
	if err != nil {
		return err
	}
	watching, cancel := context.WithCancel(context.Background())
	context.AfterFunc(watching, messages.Stop)
	j.mu.Lock()
	j.watched = cancel
	j.mu.Unlock()
	go func() {
		for {
			m, err := messages.Next(api.NextContext(watching))
			if watching.Err() != nil {
				return
			}
			if err != nil {
				j.stale()
				j.ring()
				return
			}
			j.came(watching, m)
		}
	}()
	return nil
}

// came keeps a bundle that the servers sent by themselves.
func (j *JetStream) came(watching context.Context, m api.Msg) {
	about, err := m.Metadata()
	b, ok := j.bundleOf(m)
	if err != nil || !ok {
		return // it's named when it's fetched
	}
	j.learn(m.Subject(), last{b.Head(), about.Sequence.Stream})
	j.mu.Lock()
	defer j.mu.Unlock()
	if watching.Err() != nil {
		return
	}
	j.recent, j.bytes = append(j.recent, message{m.Subject(), about.Sequence.Stream, b, m.Data()}), j.bytes+len(m.Data())
	for j.bytes > mostRecent {
		j.bytes -= len(j.recent[0].raw)
		j.recent = slices.Delete(j.recent, 0, 1)
	}
	j.ring()
}

// bundleOf is what a message says of its bundle; ok is false unless it says the same as its subject.
func (j *JetStream) bundleOf(m api.Msg) (bundle.Bundle, bool) {
	site, epoch, ok := j.chainOf(m.Subject())
	b, err := bundle.Peek(m.Data())
	return b, ok && err == nil && b.Group == j.group && b.Site == site && b.Epoch == epoch
}

// Heads gives the last bundle of each chain, and others that other sites passed on last.
func (j *JetStream) Heads(ctx context.Context) ([]bundle.Head, error) {
	select {
	case <-j.news:
	default:
	}
	known, err := j.read(ctx)
	if err != nil {
		return nil, err
	}
	var heads []bundle.Head
	for _, l := range known {
		if !slices.Contains(heads, l.Head) {
			heads = append(heads, l.Head)
		}
	}
	slices.SortFunc(heads, func(a, b bundle.Head) int {
		return cmp.Or(slices.Compare(a.Site[:], b.Site[:]), slices.Compare(a.Epoch[:], b.Epoch[:]),
			cmp.Compare(a.Number, b.Number))
	})
	return heads, nil
}

// Fetch gives the bundles of a chain beyond a link: those that came by themselves, or from the
// stream. Where each returns bundle.ErrForm or bundle.ErrSignature, the message is named and
// left aside.
func (j *JetStream) Fetch(ctx context.Context, site, epoch uuid.UUID, after uint64, each func([]byte) error) error {
	known, err := j.read(ctx)
	if err != nil {
		return err
	}
	start, given := after, map[bundle.Head]bool{}
	give := func(subject string, b bundle.Bundle, raw []byte) error {
		given[b.Head()] = true
		err := each(raw)
		if errors.Is(err, bundle.ErrForm) || errors.Is(err, bundle.ErrSignature) {
			j.fault(carrier.DamagedPart, subject, fmt.Sprintf("%d-%d: %v", b.First, b.Last, err))
			return nil
		}
		if err == nil && b.First <= after+1 {
			after = max(after, b.Last)
		}
		return err
	}
	for _, m := range j.pushed(site, epoch) {
		if m.head.First > after+1 || m.head.Last <= after {
			continue
		}
		if err := give(m.subject, m.head, m.raw); err != nil {
			return err
		}
	}
	for _, s := range j.subjects(known, site, epoch) {
		if known[s].Number <= start || given[known[s].Head] {
			continue // what isn't given may be another branch
		}
		if err := j.fetch(ctx, s, known[s].seq, start, give); err != nil {
			return err
		}
	}
	return nil
}

// subjects are those that have a chain's bundles. The site's own comes first: what others passed on
// may be the same.
func (j *JetStream) subjects(known map[string]last, site, epoch uuid.UUID) []string {
	own := j.subject(site.String(), site.String(), epoch.String())
	out := []string{own}
	for s, l := range known {
		if s != own && l.Site == site && l.Epoch == epoch {
			out = append(out, s)
		}
	}
	return out
}

// pushed are the bundles of a chain that the servers sent by themselves.
func (j *JetStream) pushed(site, epoch uuid.UUID) (out []message) {
	j.mu.Lock()
	defer j.mu.Unlock()
	for _, m := range j.recent {
		if m.head.Site == site && m.head.Epoch == epoch {
			out = append(out, m)
		}
	}
	return out
}

// fetch gives the bundles of one subject beyond a link.
func (j *JetStream) fetch(ctx context.Context, subject string, end, after uint64,
	give func(string, bundle.Bundle, []byte) error) error {
	var failed error
	from, err := j.find(ctx, subject, end, after)
	if err != nil {
		return err
	}
	err = j.do(ctx, func(ctx context.Context, alive func()) error {
		return j.each(ctx, api.OrderedConsumerConfig{
			DeliverPolicy: api.DeliverByStartSequencePolicy, OptStartSeq: from, FilterSubjects: []string{subject},
		}, func(m api.Msg, seq uint64) error {
			alive()
			b, ok := j.bundleOf(m)
			switch {
			case !ok:
				j.fault(carrier.ForeignPart, subject, strconv.FormatUint(seq, 10))
				return nil
			case b.Last <= after:
				return nil
			}
			if failed = give(subject, b, m.Data()); failed != nil {
				return failed
			}
			alive()
			j.mu.Lock()
			j.at[subject] = struct{ last, seq uint64 }{b.Last, seq}
			j.mu.Unlock()
			return nil
		})
	})
	if failed != nil {
		return failed
	}
	return err
}

// find gives the sequence of the first message of a subject that goes beyond a link, by halves:
// numbers rise with the sequence. A chain that forked may be an exception, and then bundles are
// missing until they're asked for from the first link.
func (j *JetStream) find(ctx context.Context, subject string, end, after uint64) (from uint64, err error) {
	from = 1
	if after == 0 {
		return from, nil
	}
	j.mu.Lock()
	if at, ok := j.at[subject]; ok && at.last <= after {
		from = at.seq + 1
	}
	j.mu.Unlock()
	err = j.do(ctx, func(ctx context.Context, alive func()) error {
		s, err := j.js.Stream(ctx, Stream(j.group))
		for err == nil && from < end {
			var m *api.RawStreamMsg
			middle := from + (end-from)/2
			m, err = s.GetMsg(ctx, middle, api.WithGetMsgSubject(subject))
			alive()
			if errors.Is(err, api.ErrMsgNotFound) {
				end, err = middle, nil
			} else if err == nil {
				b, perr := bundle.Peek(m.Data)
				if perr == nil && b.Last <= after {
					from = m.Sequence + 1
				} else {
					end = middle
				}
			}
		}
		return err
	})
	return from, err
}

// Wait returns when a bundle came, when the link broke or is back, and after a while in any case.
func (j *JetStream) Wait(ctx context.Context) error {
	select {
	case <-j.news:
		return nil
	case <-time.After(j.Reread):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
