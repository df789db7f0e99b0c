package workbook

import (
	"bufio"
	"encoding/xml"
	"errors"
	"io"
)

// marks goes through a part; one that is not there has none.
func (b *Book) marks(part string, fn func(xml.Token) error) error {
	if b.parts[partName(part)] == nil {
		return nil
	}
	m, err := b.open(part)
	if err != nil {
		return err
	}
	defer m.Close()
	for {
		t, err := m.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err == nil {
			err = fn(t)
		}
		if err != nil {
			return err
		}
	}
}

// marked is a part being read, within bounds: of the part by what the whole
// workbook may come to, of a single mark by maxStep, so that nothing in it can
// fill the memory. It keeps no account of which marks are open.
type marked struct {
	book *Book
	file io.ReadCloser
	r    *bufio.Reader
	xml  *xml.Decoder
	step int
	err  error // why reading ended, in our words
}

func (b *Book) open(part string) (*marked, error) {
	f := b.parts[partName(part)]
	if f.Flags&1 != 0 {
		return nil, errLocked
	}
	r, err := f.Open()
	if err != nil {
		return nil, errDamaged
	}
	m := &marked{book: b, file: r}
	m.r = bufio.NewReaderSize(unpacked{m}, 64<<10)
	m.xml = xml.NewDecoder(m)
	return m, nil
}

// unpacked counts what comes out of the packing.
type unpacked struct{ m *marked }

func (u unpacked) Read(p []byte) (int, error) {
	b := u.m.book
	if err := b.ctx.Err(); err != nil {
		u.m.err = err
		return 0, err
	}
	n, err := u.m.file.Read(p)
	if b.left -= int64(n); b.left < 0 {
		u.m.err = errHuge
		return 0, errHuge
	}
	if err != nil && !errors.Is(err, io.EOF) {
		u.m.err = errDamaged
	}
	return n, err
}

// ReadByte gives the decoder the next byte.
func (m *marked) ReadByte() (byte, error) {
	if m.step++; m.step > maxStep {
		m.err = errHuge
		return 0, errHuge
	}
	return m.r.ReadByte()
}

// Read is there for the decoder to be made; it reads by ReadByte.
func (m *marked) Read(p []byte) (int, error) { return m.r.Read(p) }

func (m *marked) next() (xml.Token, error) {
	m.step = 0
	t, err := m.xml.RawToken()
	switch {
	case m.err != nil:
		return nil, m.err
	case err == nil:
		if _, ok := t.(xml.Directive); ok {
			return nil, errDamaged // a document type is no part of a workbook
		}
		return t, nil
	case errors.Is(err, io.EOF):
		return nil, io.EOF
	}
	return nil, errDamaged
}

// drain reads the rest of a part, whose check sum comes last.
func (m *marked) drain() error {
	if _, err := io.Copy(io.Discard, m.r); err != nil && m.err == nil {
		m.err = errDamaged
	}
	return m.err
}

// Close ends the reading.
func (m *marked) Close() error { return m.file.Close() }
