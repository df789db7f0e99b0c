package workbook

import (
	"encoding/xml"
	"io"
)

// part reads the XML of one part of a workbook. The whole workbook may unpack to maxUnpacked bytes and one element
// to maxElement, so that a packed bomb can't fill the memory.
type part struct {
	book   *Book
	file   io.ReadCloser
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
	if f.UncompressedSize64 > uint64(max(0, b.left)) { // as it says itself: no need to unpack it first
		return nil, errHuge
	}
	r, err := f.Open()
	if err != nil {
		return nil, errDamaged
	}
	p := &part{book: b, file: r}
	p.xml = xml.NewDecoder(p)
	return p, nil
}

// Read gives the decoder the part's bytes, until a limit is reached or the context ends.
func (p *part) Read(into []byte) (n int, err error) {
	if p.err = p.book.ctx.Err(); p.err == nil {
		n, err = p.file.Read(into)
		p.budget -= n
		p.book.left -= int64(n)
		switch {
		case p.budget < 0 || p.book.left < 0:
			p.err = errHuge
		case err != nil && err != io.EOF:
			p.err = errDamaged
		}
	}
	if p.err != nil {
		return 0, p.err
	}
	return n, err
}

// sentence replaces the decoder's error by one for people.
func (p *part) sentence(err error) error {
	switch {
	case err == nil || err == io.EOF && p.err == nil:
		return err
	case p.err != nil:
		return p.err
	}
	return errDamaged
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
	p.budget = maxUnpacked
	_, err := io.Copy(io.Discard, p)
	return p.sentence(err)
}

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
	defer p.file.Close()
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
