package jetstream

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/nats-io/nats.go"
	api "github.com/nats-io/nats.go/jetstream"

	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/natstest"
	"rindkeep/store/bundle"
)

var (
	group = uuid.MustParse("00000000-0000-4000-8000-000000000001")
	north = uuid.MustParse("00000000-0000-4000-8000-00000000000a")
	south = uuid.MustParse("00000000-0000-4000-8000-00000000000b")
	epoch = uuid.MustParse("00000000-0000-4000-8000-0000000000e1")
)

// hash is that of a link in an invented chain.
func hash(site uuid.UUID, n uint64) [32]byte {
	return sha256.Sum256(fmt.Appendf(nil, "%s %d", site, n))
}

func sealed(t testing.TB, site uuid.UUID, first, last uint64) []byte {
	t.Helper()
	key := ed25519.NewKeyFromSeed(bytes.Repeat(site[15:], ed25519.SeedSize))
	raw, err := bundle.Seal(key, bundle.Bundle{
		Group: group, Site: site, Epoch: epoch, First: first, Last: last,
		Before: hash(site, first-1), After: hash(site, last),
		Payload: fmt.Appendf(nil, "links %d to %d", first, last),
	})
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func dialled(t testing.TB, address string, as uuid.UUID) *JetStream {
	t.Helper()
	j, err := Open(t.Context(), address, group, as)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	return j
}

// until waits for something on a machine that may be very busy; is gives what's still wrong.
func until(t testing.TB, is func() error) {
	t.Helper()
	for began := time.Now(); ; time.Sleep(10 * time.Millisecond) {
		err := is()
		if err == nil {
			return
		}
		if time.Since(began) > 3*time.Minute {
			t.Fatal(err)
		}
	}
}

// reached runs a request again while the servers are away: on a busy machine they may seem so.
func reached(t testing.TB, request func() error) (err error) {
	t.Helper()
	until(t, func() error {
		if err = request(); errors.Is(err, carrier.Away) {
			return err
		}
		return nil
	})
	return err
}

func prepared(t testing.TB, c *natstest.Servers) {
	t.Helper()
	admin := dialled(t, c.Admin(), north)
	until(t, func() error { return admin.Prepare(t.Context()) }) // a cluster chooses its leader first
}

func put(t testing.TB, j *JetStream, raws ...[]byte) {
	t.Helper()
	for _, raw := range raws {
		if err := reached(t, func() error { return j.Put(t.Context(), raw) }); err != nil {
			t.Fatal(err)
		}
	}
}

// heads is what the stream says it has, as "a 9": the site's last digit and the link's number.
func heads(t testing.TB, j *JetStream) string {
	t.Helper()
	var all []bundle.Head
	if err := reached(t, func() (err error) { all, err = j.Heads(t.Context()); return err }); err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, h := range all {
		out = append(out, fmt.Sprintf("%x %d", h.Site[15], h.Number))
	}
	return strings.Join(out, ", ")
}

// comes waits until the servers have sent so much by themselves.
func comes(t testing.TB, j *JetStream, want string) {
	t.Helper()
	until(t, func() error {
		if got := heads(t, j); got != want {
			return fmt.Errorf("heads %s, want %s", got, want)
		}
		return nil
	})
}

func fetched(t testing.TB, j *JetStream, site uuid.UUID, after uint64) string {
	t.Helper()
	var out []string
	err := reached(t, func() error {
		out = nil
		return j.Fetch(t.Context(), site, epoch, after, func(raw []byte) error {
			b, _, err := bundle.Open(raw)
			if err == nil {
				out = append(out, fmt.Sprintf("%d-%d", b.First, b.Last))
			}
			return err
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(out, " ")
}

func faults(j *JetStream) string {
	var out []string
	for _, f := range j.Faults() {
		out = append(out, fmt.Sprintf("%s %s", f.Kind, f.What))
	}
	return strings.Join(out, ", ")
}

func TestAStreamCarriesBundles(t *testing.T) {
	c := natstest.Start(t, 1, group, north, south)
	a := dialled(t, c.Address(north), north)
	err := reached(t, func() error { _, err := a.Heads(t.Context()); return err })
	if !errors.Is(err, carrier.Unprepared) {
		t.Errorf("before there is a stream: %v", err)
	}
	if err := reached(t, func() error { return a.Prepare(t.Context()) }); !errors.Is(err, carrier.Refused) {
		t.Errorf("a site makes the stream: %v", err)
	}
	prepared(t, c)
	if got := heads(t, a); got != "" {
		t.Errorf("heads of an empty stream: %s", got)
	}
	b := dialled(t, c.Address(south), south)
	if got := heads(t, b) + fetched(t, b, north, 0); got != "" {
		t.Errorf("of an empty stream: %s", got)
	}

	put(t, a, sealed(t, north, 1, 5), sealed(t, north, 6, 6), sealed(t, north, 7, 1000))
	if err := b.Wait(t.Context()); err != nil {
		t.Error(err)
	}
	put(t, b, sealed(t, south, 1, 2))
	put(t, b, sealed(t, south, 1, 2)) // its acknowledgement was lost, so to speak
	late := dialled(t, c.Address(south), south)
	comes(t, b, "a 1000, b 2") // one by one
	for name, j := range map[string]*JetStream{"pushed": b, "read": late} {
		if got := heads(t, j); got != "a 1000, b 2" {
			t.Errorf("%s: heads %s", name, got)
		}
		for after, want := range map[uint64]string{
			0: "1-5 6-6 7-1000", 5: "6-6 7-1000", 6: "7-1000", 7: "7-1000", 1000: "", 2000: "",
		} {
			if got := fetched(t, j, north, after); got != want {
				t.Errorf("%s: after %d: %s, want %s", name, after, got, want)
			}
		}
		if got := faults(j); got != "" {
			t.Errorf("%s: %s", name, got)
		}
	}
	// Half of them were pushed, the others must be read.
	half := dialled(t, c.Address(south), south)
	heads(t, half)
	put(t, a, sealed(t, north, 1001, 1001))
	comes(t, half, "a 1001, b 2")
	if got := fetched(t, half, north, 5); got != "6-6 7-1000 1001-1001" {
		t.Errorf("half pushed: %s", got)
	}
}

// A site passes on what another signed, below its own name; the servers let it publish nowhere else.
func TestASitePublishesBelowItsOwnNameOnly(t *testing.T) {
	c := natstest.Start(t, 1, group, north, south)
	prepared(t, c)
	a, b := dialled(t, c.Address(north), north), dialled(t, c.Address(south), south)
	put(t, a, sealed(t, north, 1, 5), sealed(t, north, 6, 8))
	put(t, b, sealed(t, north, 1, 5))
	a.stale()
	if got := heads(t, a); got != "a 5, a 8" {
		t.Errorf("heads: %s", got)
	}
	if got := fetched(t, dialled(t, c.Address(north), north), north, 0); got != "1-5 6-8" {
		t.Errorf("fetched: %s", got)
	}

	thief := dialled(t, c.Address(south), north) // south's password, north's name
	err := reached(t, func() error { return thief.Put(t.Context(), sealed(t, north, 9, 9)) })
	if !errors.Is(err, carrier.Refused) || !strings.Contains(err.Error(), "rindkeep."+group.String()+"."+north.String()) {
		t.Errorf("it published as another: %v", err)
	}
	wrong := dialled(t, strings.Replace(c.Address(south), "secret", "guess", 1), south)
	err = reached(t, func() error { _, err := wrong.Heads(t.Context()); return err })
	if !errors.Is(err, carrier.Refused) {
		t.Errorf("a wrong password: %v", err)
	}
	if got := heads(t, a); got != "a 5, a 8" {
		t.Errorf("heads after that: %s", got)
	}
}

// What isn't a bundle is named; what is damaged too, when it's opened. The rest arrives.
func TestMessagesOfOthersAreNamed(t *testing.T) {
	c := natstest.Start(t, 1, group, north, south)
	prepared(t, c)
	a := dialled(t, c.Address(north), north)
	put(t, a, sealed(t, north, 1, 5))
	own := a.subject(north.String(), north.String(), epoch.String())
	good := sealed(t, north, 6, 8)
	bad := bytes.Clone(good)
	bad[len(bad)-1] ^= 1
	for subject, data := range map[string][]byte{
		own: sealed(t, south, 6, 8), a.subject(north.String(), "who", "what"): good,
		a.subject(north.String(), south.String(), epoch.String()): []byte("hello"),
	} {
		if _, err := a.js.Publish(t.Context(), subject, data); err != nil {
			t.Fatal(err)
		}
	}
	b := dialled(t, c.Address(south), south)
	heads(t, b)
	if got := faults(b); strings.Count(got, "bundle-foreign") != 3 {
		t.Errorf("named: %s", got)
	}
	b.stale()
	m := nats.NewMsg(own)
	m.Data = bad
	m.Header.Set(lastHeader, "8")
	m.Header.Set(afterHeader, strings.Repeat("00", 32))
	if _, err := a.js.PublishMsg(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	a.stale()
	put(t, a, sealed(t, north, 6, 9))
	if got := fetched(t, b, north, 0); got != "1-5 6-9" {
		t.Errorf("fetched: %s", got)
	}
	if got := faults(b); !strings.Contains(got, "bundle-damaged "+own) || !strings.Contains(got, "bundle-foreign "+own) {
		t.Errorf("named: %s", got)
	}
}

// Two processes of one site: one of them is behind, and reads again.
func TestTwoWritersOfOneSite(t *testing.T) {
	c := natstest.Start(t, 1, group, north)
	prepared(t, c)
	one, two := dialled(t, c.Address(north), north), dialled(t, c.Address(north), north)
	heads(t, one)
	heads(t, two)
	put(t, one, sealed(t, north, 1, 5))
	until(t, func() error { // or it would come in the middle of what follows
		two.mu.Lock()
		defer two.mu.Unlock()
		if len(two.recent) == 0 {
			return errors.New("nothing came by itself")
		}
		return nil
	})
	two.mu.Lock()
	two.known = map[string]last{} // as if the news of it were on the way
	two.mu.Unlock()
	err := two.Put(t.Context(), sealed(t, north, 1, 4))
	for errors.Is(err, carrier.Away) { // it forgot what it had been told, and would read it again
		two.mu.Lock()
		two.known = map[string]last{}
		two.mu.Unlock()
		err = two.Put(t.Context(), sealed(t, north, 1, 4))
	}
	if !errors.Is(err, carrier.Behind) {
		t.Errorf("%v", err)
	}
	if got := heads(t, two); got != "a 5" {
		t.Errorf("heads: %s", got)
	}
	put(t, two, sealed(t, north, 6, 7))
}

// book is a site's chain, and how far it has others'.
type book struct {
	site uuid.UUID
	j    *JetStream
	own  uint64
	has  map[uuid.UUID]uint64
}

// exchange does what a site does: takes what is new, and puts what the stream lacks, two links at a time.
func (b *book) exchange(ctx context.Context) error {
	all, err := b.j.Heads(ctx)
	if err != nil {
		return err
	}
	at := uint64(0)
	for _, h := range all {
		if h.Site == b.site {
			at = max(at, h.Number)
			continue
		}
		err := b.j.Fetch(ctx, h.Site, h.Epoch, b.has[h.Site], func(raw []byte) error {
			in, _, err := bundle.Open(raw)
			if err != nil || in.First > b.has[h.Site]+1 || in.Before != hash(in.Site, in.First-1) {
				return err
			}
			b.has[h.Site] = max(b.has[h.Site], in.Last)
			return nil
		})
		if err != nil {
			return err
		}
	}
	for err == nil && at < b.own {
		last := min(at+2, b.own)
		if err = b.j.Put(ctx, sealedQuietly(b.site, at+1, last)); err == nil {
			at = last
		}
	}
	return err
}

func sealedQuietly(site uuid.UUID, first, last uint64) []byte {
	key := ed25519.NewKeyFromSeed(bytes.Repeat(site[15:], ed25519.SeedSize))
	raw, _ := bundle.Seal(key, bundle.Bundle{
		Group: group, Site: site, Epoch: epoch, First: first, Last: last,
		Before: hash(site, first-1), After: hash(site, last), Payload: []byte("links"),
	})
	return raw
}

// Three servers: whatever falls, each site goes on writing, and all of it arrives afterwards.
func TestThreeServersFallAndComeBack(t *testing.T) {
	if testing.Short() {
		t.Skip("takes half a minute")
	}
	c := natstest.Start(t, 3, group, north, south)
	prepared(t, c)
	a := &book{north, dialled(t, c.Address(north), north), 0, map[uuid.UUID]uint64{}}
	b := &book{south, dialled(t, c.Address(south), south), 0, map[uuid.UUID]uint64{}}
	for _, k := range []*book{a, b} {
		k.j.Patience = 2 * time.Second
	}
	both := []*book{a, b}
	write := func() {
		for _, k := range both {
			k.own += 3
		}
	}
	arrive := func(when string) {
		t.Helper()
		began := time.Now()
		var err error
		for a.has[south] != b.own || b.has[north] != a.own {
			if time.Since(began) > 4*time.Minute {
				t.Fatalf("%s: north has %v and %d of its own, south %v and %d: %v", when, a.has, a.own, b.has, b.own, err)
			}
			for _, k := range both {
				if e := k.exchange(t.Context()); e != nil {
					err = e
					time.Sleep(100 * time.Millisecond)
				}
			}
		}
		t.Logf("%s: all arrived after %s", when, time.Since(began).Round(10*time.Millisecond))
	}
	away := func(when string) {
		t.Helper()
		began := time.Now()
		for _, k := range both {
			// The first request may find the link broken, the second may not mend it.
			if err := errors.Join(k.exchange(t.Context()), k.exchange(t.Context())); !errors.Is(err, carrier.Away) {
				t.Errorf("%s: %v", when, err)
			}
		}
		t.Logf("%s: said after %s", when, time.Since(began).Round(10*time.Millisecond))
	}
	write()
	arrive("at first")

	leader := c.All[0]
	var s api.Stream
	until(t, func() (err error) {
		s, err = a.j.js.Stream(t.Context(), Stream(group))
		return err
	})
	for i, server := range c.All {
		if s.CachedInfo().Cluster.Leader == fmt.Sprintf("log%d", i+1) {
			leader = server
		}
	}
	leader.Kill()
	write()
	arrive("the leader killed")
	leader.Start()

	c.All[0].Kill()
	c.All[1].Kill()
	write()
	away("two of three down")
	c.All[0].Start()
	c.All[1].Start()
	arrive("two of three back")

	for _, server := range c.All {
		server.Stop()
	}
	old := filepath.Join(t.TempDir(), "old")
	for i, server := range c.All {
		copyTree(t, filepath.Join(server.Folder, "store"), fmt.Sprint(old, i))
	}
	write()
	away("all down")
	for _, server := range c.All {
		server.Start()
	}
	arrive("all back")

	// The power fails, and all three come back as they were before: what the servers acknowledged
	// since is gone, and its sequence comes again.
	for i, server := range c.All {
		server.Kill()
		if err := os.RemoveAll(filepath.Join(server.Folder, "store")); err != nil {
			t.Fatal(err)
		}
		copyTree(t, fmt.Sprint(old, i), filepath.Join(server.Folder, "store"))
	}
	for _, server := range c.All {
		server.Start()
	}
	write()
	arrive("set back")
	late := &book{group, dialled(t, c.Address(south), south), 0, map[uuid.UUID]uint64{}}
	until(t, func() error {
		err := late.exchange(t.Context())
		if late.has[north] != a.own || late.has[south] != b.own {
			return fmt.Errorf("a new site has %v, of %d and %d: %w", late.has, a.own, b.own, err)
		}
		return nil
	})
}

func copyTree(t *testing.T, from, to string) {
	t.Helper()
	if err := os.CopyFS(to, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
}
