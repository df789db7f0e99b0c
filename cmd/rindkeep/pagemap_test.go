package main

import (
	"bytes"
	"encoding/binary"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// The pages of a book as bbolt 1.5 lays them out: a header with the page's own number,
// its kind, its elements and the pages it spans, then a table of the elements. See
// page.go of go.etcd.io/bbolt/internal/common.
const (
	pageSize    = 4096
	pageHeader  = 16
	elementSize = 16
	pageBranch  = 1
	pageLeaf    = 2
)

// mappedPage is what a page of a sound book holds.
type mappedPage struct {
	bucket string // "": it lists the buckets
	branch bool
	keys   [][]byte // some of them
}

// pageMap says what is on each page of a book that's in use, and how people call it.
type pageMap struct {
	file   []byte
	pages  map[int64]*mappedPage
	branch []int64        // pages
	size   map[string]int // pages of each bucket
	vital  []int64        // both copies of the metadata, the lists of buckets and of free pages
	tags   map[uuid.UUID]string
	lots   map[uuid.UUID]string
	sample map[uuid.UUID]uuid.UUID // a wheel of each make
}

func mapPages(t *testing.T, path string) *pageMap {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	m := &pageMap{
		file: b, pages: map[int64]*mappedPage{}, size: map[string]int{}, vital: []int64{0, 1}, tags: map[uuid.UUID]string{},
		lots: map[uuid.UUID]string{}, sample: map[uuid.UUID]uuid.UUID{},
	}
	newest, second := b[pageHeader:], b[pageSize+pageHeader:]
	if binary.NativeEndian.Uint64(second[48:]) > binary.NativeEndian.Uint64(newest[48:]) {
		newest = second
	}
	root, free := int64(binary.NativeEndian.Uint64(newest[16:])), int64(binary.NativeEndian.Uint64(newest[32:]))
	m.vital = append(m.vital, root, free)
	m.walk("", root)
	m.file = nil
	return m
}

// walk goes through a bucket's pages, or those of the list of buckets.
func (m *pageMap) walk(bucket string, id int64) {
	b := m.file[id*pageSize:]
	count := int(binary.NativeEndian.Uint16(b[10:]))
	p := &mappedPage{bucket: bucket, branch: binary.NativeEndian.Uint16(b[8:]) == pageBranch}
	m.pages[id] = p
	m.size[bucket]++
	if p.branch {
		m.branch = append(m.branch, id)
	}
	for i := range count {
		e := b[pageHeader+elementSize*i:]
		word := func(at int) int { return int(binary.NativeEndian.Uint32(e[at:])) }
		if p.branch {
			key := e[word(0) : word(0)+word(4)]
			m.keep(p, i, count, key)
			m.walk(bucket, int64(binary.NativeEndian.Uint64(e[8:])))
			continue
		}
		key, value := e[word(4):word(4)+word(8)], e[word(4)+word(8):word(4)+word(8)+word(12)]
		switch {
		case bucket != "":
			m.keep(p, i, count, key)
			m.learn(bucket, key, value)
		case binary.NativeEndian.Uint64(value) != 0: // else its records are here too
			m.walk(string(key), int64(binary.NativeEndian.Uint64(value)))
		}
	}
}

// keep keeps the first key of a page, the last and one between.
func (m *pageMap) keep(p *mappedPage, i, count int, key []byte) {
	if i == 0 || i == count/2 || i == count-1 {
		p.keys = append(p.keys, bytes.Clone(key))
	}
}

// learn takes names from the indexes: a version and an identity under the folded name.
func (m *pageMap) learn(bucket string, key, value []byte) {
	switch bucket {
	case "tags":
		m.tags[uuid.UUID(value[1:17])] = string(key)
	case "lots":
		m.lots[uuid.UUID(value[1:17])] = string(key)
	case "makewheels":
		m.sample[uuid.UUID(key[:16])] = uuid.UUID(key[20:36])
	}
}

// bucketOf is what a page is for.
func (m *pageMap) bucketOf(id int64) string {
	if p := m.pages[id]; p != nil {
		return p.bucket
	}
	return "no bucket"
}

// harmless says whether most wheels can be shown whatever is on a page: it's a leaf of a
// bucket that has many, or free.
func (m *pageMap) harmless(id int64) bool {
	p := m.pages[id]
	return !slices.Contains(m.vital, id) && (p == nil || !p.branch && m.size[p.bucket] >= 50)
}

// about are questions whose answers are on a page.
func (m *pageMap) about(id int64) (out [][]string) {
	p := m.pages[id]
	if p == nil {
		return nil
	}
	card := func(wheel []byte) {
		if tag := m.tags[uuid.UUID(wheel)]; tag != "" {
			out = append(out, []string{"wheel", "show", tag, "--history", "0", "--json"})
		}
	}
	lot := func(mk []byte) {
		if lot := m.lots[uuid.UUID(mk)]; lot != "" {
			out = append(out, []string{"make", "show", lot, "--json"})
		}
	}
	rack := func(place []byte, command ...string) {
		if part := strings.Split(string(place), "/"); len(part) > 1 {
			out = append(out, append(command, strings.Join(part[:2], "/"), "--json"))
		}
	}
	for _, k := range p.keys {
		switch p.bucket {
		case "wheels", "standings":
			card(k[:16])
		case "entries":
			card(k[:16])
			lot(k[:16])
		case "outlooks":
			out = append(out, []string{"dry", m.tags[uuid.UUID(k[:16])], "--json"})
		case "curves":
			if of := m.sample[uuid.UUID(k[:16])]; of != uuid.Nil {
				out = append(out, []string{"curve", m.tags[of], "--json"})
			}
		case "due":
			rack(k[4:bytes.IndexByte(k[4:], 0)+4], "today", "--room")
			card(k[len(k)-17 : len(k)-1])
		case "places":
			rack(k[:bytes.IndexByte(k, 0)], "wheel", "list", "--rack")
		case "makes":
			lot(k[:16])
		case "makewheels":
			lot(k[:16])
		case "dates":
			lot(k[4:20])
		case "tags":
			out = append(out, []string{"wheel", "show", string(k), "--history", "0", "--json"})
		case "lots":
			out = append(out, []string{"make", "show", string(k), "--json"})
		case "rooms", "shelves":
			out = append(out, []string{"room", "list", "--json"})
		}
	}
	return out
}
