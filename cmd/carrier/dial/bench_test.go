package dial

import (
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/folder"
	"rindkeep/cmd/carrier/natstest"
	"rindkeep/store/bundle"
)

// chain is a site's invented chain. Its links hold random bytes, so that deflating does no good.
type chain struct {
	site, epoch uuid.UUID
	key         ed25519.PrivateKey
	at          uint64
}

func (c *chain) next(b *testing.B, group uuid.UUID, size int) []byte {
	b.Helper()
	hash := func(n uint64) [32]byte {
		return sha256.Sum256(binary.BigEndian.AppendUint64(c.site[:], n))
	}
	var payload []byte
	for n := c.at; len(payload) < size; n++ {
		h := hash(n)
		payload = append(payload, h[:]...)
	}
	c.at++
	raw, err := bundle.Seal(c.key, bundle.Bundle{
		Group: group, Site: c.site, Epoch: c.epoch, First: c.at, Last: c.at,
		Before: hash(c.at - 1), After: hash(c.at), Payload: payload[:size],
	})
	if err != nil {
		b.Fatal(err)
	}
	return raw
}

// carriers opens a carrier for each of so many sites.
func carriers(b *testing.B, kind string, group uuid.UUID, sites []uuid.UUID) (all []carrier.Carrier) {
	b.Helper()
	place := b.TempDir()
	address := func(uuid.UUID) string { return place }
	admin := place
	if kind != "folder" {
		servers := natstest.Start(b, map[string]int{"one server": 1, "three servers": 3}[kind], group, sites...)
		address, admin = servers.Address, servers.Admin()
	}
	var err error
	for range 60 { // a cluster chooses its leader first
		if err = Prepare(b.Context(), admin, group, sites[0]); err == nil {
			break
		}
		time.Sleep(250 * time.Millisecond)
	}
	for _, site := range sites {
		var c carrier.Carrier
		if err == nil {
			c, err = Open(b.Context(), address(site), group, site)
		}
		if f, ok := c.(*folder.Folder); ok {
			f.Every = 10 * time.Millisecond
		}
		all = append(all, c)
	}
	if err != nil {
		b.Fatal(err)
	}
	return all
}

// BenchmarkCarriers has one site put a bundle of some weighings, and waits until all others have
// it: the share of them that had it later than lag-p99 is one in a hundred.
func BenchmarkCarriers(b *testing.B) {
	for _, kind := range []string{"folder", "one server", "three servers"} {
		for _, count := range []int{2, 10, 100} {
			if kind == "folder" && count > 2 {
				break // each of them looks at all of the folder again and again
			}
			for _, size := range []int{200, 200 << 10} {
				b.Run(fmt.Sprintf("%s/%d sites/%d bytes", kind, count, size), func(b *testing.B) {
					carry(b, kind, count, size)
				})
			}
		}
	}
}

// mostFailed is how often in a row a reader may be refused: a hundred that come at once keep three
// servers busy.
const mostFailed = 20

func carry(b *testing.B, kind string, count, size int) {
	group := uuid.New()
	sites := make([]uuid.UUID, count)
	for i := range sites {
		sites[i] = uuid.New()
	}
	all := carriers(b, kind, group, sites)
	_, key, _ := ed25519.GenerateKey(nil)
	from := &chain{site: sites[0], epoch: uuid.New(), key: key}
	came := make(chan time.Time, count)
	ctx, cancel := context.WithCancel(b.Context())
	defer cancel()
	for _, c := range all[1:] {
		go func() {
			after, failed := uint64(0), 0
			for ctx.Err() == nil {
				heads, err := c.Heads(ctx)
				if err == nil && len(heads) > 0 && heads[0].Number > after {
					err = c.Fetch(ctx, from.site, from.epoch, after, func(raw []byte) error {
						in, _, err := bundle.Open(raw)
						if err == nil {
							after = in.Last
							came <- time.Now()
						}
						return err
					})
				}
				if failed++; err == nil {
					failed = 0
				} else if failed > mostFailed && ctx.Err() == nil {
					b.Error(err)
					cancel() // else the sender waits for this one
					return
				}
				_ = c.Wait(ctx)
			}
		}()
	}
	var lags []time.Duration
	var took time.Duration // to put
	send := func() {
		raw := from.next(b, group, size)
		began := time.Now()
		if err := all[0].Put(ctx, raw); err != nil {
			b.Fatal(err)
		}
		took += time.Since(began)
		for range count - 1 {
			select {
			case at := <-came:
				lags = append(lags, at.Sub(began))
			case <-ctx.Done():
				b.FailNow()
			}
		}
	}
	send() // until all are listening
	lags, took = nil, 0
	for b.Loop() {
		send()
	}
	slices.Sort(lags)
	b.ReportMetric(float64(lags[len(lags)*99/100].Microseconds())/1000, "ms-lag-p99")
	b.ReportMetric(float64(took.Microseconds())/1000/float64(b.N), "ms/put")
	for _, c := range all {
		_ = c.Close()
	}
}
