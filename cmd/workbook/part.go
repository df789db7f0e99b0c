package workbook

import (
	"bufio"
	"encoding/xml"
	"errors"
	"io"
)

// part reads the XML of one part of a workbook. The whole workbook may unpack to
// maxUnpacked bytes and one element to maxElement, so that a packed bomb can't
// fill the memory.
type part struct {
	book   *Book
	file   io.ReadCloser
	buf    *bufio.Reader
	xml    *xml.Decoder
	budget int // bytes that the present element may still take
	depth  int
	err    error // why reading failed
}

func (b *Book) open(name string) (*part, error) {
	f := b.parts[partName(name)]
	if f.Flags&1 != 0 {
		return nil, errLocked
	}
	r, err := f.Open()
	if err != nil {
		return nil, errDamaged
	}
	p := &part{book: b, file: r}
	p.buf = bufio.NewReaderSize(unpacked{p}, 64<<10)
	p.xml = xml.NewDecoder(p)
	return p, nil
}

// unpacked reads a part's bytes, stops at maxUnpacked and when the context ends.
type unpacked struct{ p *part }

func (u unpacked) Read(into []byte) (int, error) {
	b := u.p.book
	if u.p.err = b.ctx.Err(); u.p.err != nil {
		return 0, u.p.err
	}
	n, err := u.p.file.Read(into)
	if b.left -= int64(n); b.left < 0 {
		err = errHuge
	} else if err != nil && !errors.Is(err, io.EOF) {
		err = errDamaged
	}
	if !errors.Is(err, io.EOF) {
		u.p.err = err
	}
	return n, err
}

// ReadByte gives the decoder the next byte.
func (p *part) ReadByte() (byte, error) {
	if p.budget--; p.budget < 0 {
		p.err = errHuge
		return 0, errHuge
	}
	return p.buf.ReadByte()
}

// Read makes p an io.Reader; the decoder uses ReadByte.
func (p *part) Read(into []byte) (int, error) { return p.buf.Read(into) }

// sentence replaces the decoder's error by one for people.
func (p *part) sentence(err error) error {
	if err != nil && p.err != nil {
		return p.err
	}
	if err != nil && err != io.EOF {
		return errDamaged
	}
	return err
}

// token gives the next token, io.EOF after the last.
func (p *part) token() (xml.Token, error) {
	p.budget = maxElement
	t, err := p.xml.Token()
	switch t.(type) {
	case xml.StartElement:
		p.depth++
	case xml.EndElement:
		p.depth--
	case xml.Directive: // a document type, which a workbook doesn't have
		return nil, errDamaged
	}
	if p.depth > maxDepth {
		return nil, errDamaged
	}
	return t, p.sentence(err)
}

// decode reads the rest of an element into v.
func (p *part) decode(e xml.StartElement, v any) error {
	p.depth--
	return p.sentence(p.xml.DecodeElement(v, &e))
}

// drain reads the rest of a part, which ends in its check sum.
func (p *part) drain() error {
	_, err := io.Copy(io.Discard, p.buf)
	return p.sentence(err)
}

// Close ends the reading.
func (p *part) Close() error { return p.file.Close() }

// each calls fn for every element of a part; fn decodes it or lets the reading go
// on inside. A part that is missing has none.
func (b *Book) each(name string, fn func(*part, xml.StartElement) error) error {
	if b.parts[partName(name)] == nil {
		return nil
	}
	p, err := b.open(name)
	if err != nil {
		return err
	}
	defer p.Close()
	for {
		t, err := p.token()
		if e, ok := t.(xml.StartElement); ok && err == nil {
			err = fn(p, e)
		}
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
	}
}
