// Package sheet lays out what goes on paper: the day's list for a clipboard, labels for wheels, the card of a
// wheel, the sheet of a make, a trace and a recall, each as a PDF.
//
// It takes plain data, already in words, and gives bytes. It reads no clock and no file: the same data give the
// same bytes. Lengths are millimetres, sizes of type points. Everything is black on white or a grey that a plain
// printer shows, and shade alone never tells two things apart.
//
// Type is one of the fonts every reader of PDF has built in, which hold the letters of Western Europe (Windows code
// page 1252); a letter they lack is printed as a question mark. The code on a label still holds the true tag.
package sheet

import (
	"bytes"
	"fmt"
	"strings"
	"time"
	"unicode"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/text/encoding/charmap"

	"rindkeep/cmd/text"
)

// Paper is a size of sheet, in millimetres.
type Paper struct {
	Name          string
	Width, Height float64
}

// The papers (ISO 216; ANSI/ASME Y14.1, 8.5 by 11 inches).
var (
	A4     = Paper{"A4", 210, 297}
	Letter = Paper{"Letter", 215.9, 279.4}
)

// FindPaper finds a4 or letter, in any case.
func FindPaper(name string) (Paper, bool) {
	for _, p := range []Paper{A4, Letter} {
		if strings.EqualFold(strings.TrimSpace(name), p.Name) {
			return p, true
		}
	}
	return Paper{}, false
}

// Head is what stands on every sheet: whose book it is from and when it was printed, in the book's zone.
type Head struct {
	Book    string
	Printed time.Time
	Paper   Paper
	Large   bool // type of 14 points instead of 11
}

// Doc is a finished document.
type Doc struct {
	PDF   []byte
	Pages int
}

const (
	mmPerPoint = 25.4 / 72
	margin     = 15.0
	plainSize  = 11.0 // points: read at arm's length
	largeSize  = 14.0
)

// page writes a document from top to bottom, page after page.
type page struct {
	pdf         *fpdf.Fpdf
	head        Head
	title       string
	size        float64 // points of the running text
	y           float64 // where the next thing goes
	left, right float64
	top, bottom float64
	repeat      func() // drawn again at the top of a page that goes on with something
	style       string // of the font as it is set
	points      float64
}

// total stands for the number of pages until it is known; no text can hold it.
const total = "\x01n\x01"

func newPDF(h Head, title string, size fpdf.SizeType) *fpdf.Fpdf {
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: size})
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(h.Printed)
	pdf.SetModificationDate(h.Printed)
	pdf.SetProducer("rindkeep", false)
	pdf.SetTitle(latinOf(title), false)
	pdf.SetLang("en")
	pdf.SetMargins(0, 0, 0)
	pdf.SetCellMargin(0)
	pdf.SetAutoPageBreak(false, 0)
	return pdf
}

func done(pdf *fpdf.Fpdf) (Doc, error) {
	var b bytes.Buffer
	if err := pdf.Output(&b); err != nil {
		return Doc{}, fmt.Errorf("laying out the sheet: %w", err)
	}
	return Doc{b.Bytes(), pdf.PageCount()}, nil
}

// begin opens a document of running pages with its title at the head of each.
func begin(h Head, title string) *page {
	p := &page{head: h, title: title, size: plainSize, left: margin, right: h.Paper.Width - margin}
	if h.Large {
		p.size = largeSize
	}
	p.pdf = newPDF(h, title, fpdf.SizeType{Wd: h.Paper.Width, Ht: h.Paper.Height})
	p.pdf.AliasNbPages(total)
	p.top = margin + 2.4*p.lh()
	p.bottom = h.Paper.Height - margin - 1.6*p.lh()
	p.newPage()
	return p
}

// lh is the height of a line of running text.
func (p *page) lh() float64 { return p.size * mmPerPoint * 1.25 }

func (p *page) width() float64 { return p.right - p.left }

// newPage begins a page: its head, its foot and what goes on from the page before.
func (p *page) newPage() {
	left, right := p.left, p.right // narrower inside a block
	p.left, p.right = margin, p.head.Paper.Width-margin
	p.pdf.AddPage()
	p.font("", p.size)
	name := p.fit(p.head.Book, p.width()*0.4)
	p.put(p.right-p.wide(name), margin+p.lh()*0.9, name)
	room := p.width() - p.wide(name) - 6
	p.font("B", p.size*1.35)
	p.put(p.left, margin+p.lh()*0.9, p.fit(p.title, room))
	p.rule(margin+p.lh()*1.4, 0.6, 0)
	p.font("", p.size)
	foot := p.head.Paper.Height - margin
	p.pdf.Text(p.left, foot, fmt.Sprintf("page %d of %s", p.pdf.PageNo(), total))
	printed := p.fit("printed "+p.head.Printed.Format("Mon 2 Jan 2006 15:04"), p.width()*0.6)
	p.put(p.right-p.wide(printed), foot, printed)
	p.y = p.top
	p.left, p.right = left, right
	if p.repeat != nil {
		p.repeat()
	}
}

// need begins a new page where less than h is left of this one.
func (p *page) need(h float64) {
	if p.y+h > p.bottom && p.y > p.top {
		p.newPage()
	}
}

func (p *page) font(style string, size float64) {
	if p.style != style || p.points != size {
		p.style, p.points = style, size
		p.pdf.SetFont("Helvetica", style, size)
	}
}

// put writes text with its baseline at y, in the font as it is set.
func (p *page) put(x, y float64, s string) { p.pdf.Text(x, y, latinOf(s)) }

func (p *page) wide(s string) float64 { return p.pdf.GetStringWidth(latinOf(s)) }

// rule draws a level line over the width of the text. Shade runs from 0, black, to 255.
func (p *page) rule(y, thick float64, shade int) {
	p.line(p.left, y, p.right, y, thick, shade)
}

func (p *page) line(x1, y1, x2, y2, thick float64, shade int) {
	p.pdf.SetDrawColor(shade, shade, shade)
	p.pdf.SetLineWidth(thick)
	p.pdf.Line(x1, y1, x2, y2)
}

// face is the type of running text, plain or bold, at a size in points.
type face struct {
	*page
	style string
	size  float64
}

func (p *page) plain() face { return face{p, "", p.size} }
func (p *page) bold() face  { return face{p, "B", p.size} }

// Wide is how wide words are in millimetres.
func (f face) Wide(words string) float64 {
	f.font(f.style, f.size)
	return f.wide(words)
}

// Head is the longest beginning of a word that fits a width, one letter at least.
func (f face) Head(word string, w float64) string {
	f.font(f.style, f.size)
	for i, r := range word {
		if w -= f.wide(string(r)); w < 0 && i > 0 {
			return word[:i]
		}
	}
	return word
}

// wrap breaks text into lines of at most w; line breaks stay.
func (f face) wrap(s string, w float64) []string {
	const slack = 1e-9 // of adding widths up
	return text.WrapIn(f, s, w+slack)
}

// fit gives text as one line of at most w in the font as it is set, its end cut off where it must be.
func (p *page) fit(s string, w float64) string {
	s = strings.ReplaceAll(s, "\n", " ")
	if p.wide(s) <= w {
		return s
	}
	const more = "…"
	w -= p.wide(more)
	for i, r := range s {
		if w -= p.wide(string(r)); w < 0 {
			return s[:i] + more
		}
	}
	return s
}

// cell is the lines of one column of a row, from x on; with right they end there.
type cell struct {
	x, right float64
	lines    []string
	bold     int // how many of its lines are bold
}

// all is as many lines as a cell can have.
const all = 1 << 30

// lineOf writes one line of every cell.
func (p *page) lineOf(cells []cell, i int) {
	for _, c := range cells {
		if i >= len(c.lines) {
			continue
		}
		p.font("", p.size)
		if i < c.bold {
			p.font("B", p.size)
		}
		x := c.x
		if c.right > 0 {
			x = c.right - p.wide(c.lines[i])
		}
		p.put(x, p.y+p.lh()*0.8, c.lines[i])
	}
	p.y += p.lh()
}

func most(cells []cell) (lines int) {
	for _, c := range cells {
		lines = max(lines, len(c.lines))
	}
	return lines
}

// row writes cells side by side and a faint rule under them. A row of ordinary height stays on one page; a very
// high one goes on over pages. High is the least height, pad the space under its text, and first draws whatever
// stands beside its first line.
func (p *page) row(cells []cell, high, pad float64, first func(y float64)) {
	n := most(cells)
	h := max(float64(n)*p.lh()+pad, high)
	if h > (p.bottom-p.top)/2 {
		h = 3 * p.lh()
	}
	p.need(h)
	began := p.y
	if first != nil {
		first(p.y)
	}
	p.y += pad / 2
	for i := range n {
		if i > 0 && p.y+p.lh() > p.bottom {
			p.newPage()
			began = p.y
		}
		p.lineOf(cells, i)
	}
	p.y = max(p.y+pad/2, began+high)
	p.rule(p.y, 0.15, 170)
}

// skip leaves some lines free.
func (p *page) skip(lines float64) { p.y += lines * p.lh() }

// section is a heading with a gap above it that stays with so many lines below.
func (p *page) section(s string, lines float64) {
	p.skip(0.4)
	p.heading(s, 1.2, lines*p.lh())
}

// blocks writes wrapped texts over the whole width.
func (p *page) blocks(style string, texts []string) {
	for _, s := range texts {
		p.block(style, s)
	}
}

func (p *page) block(style, s string) {
	for _, l := range (face{p, style, p.size}).wrap(s, p.width()) {
		p.need(p.lh())
		p.font(style, p.size)
		p.put(p.left, p.y+p.lh()*0.8, l)
		p.y += p.lh()
	}
}

// heading writes a heading that stays with what follows it, at least room high.
func (p *page) heading(s string, scale, room float64) {
	h := p.lh() * scale * 1.3
	p.need(h + room)
	p.font("B", p.size*scale)
	p.put(p.left, p.y+h*0.72, p.fit(s, p.width()))
	p.y += h
}

// framed writes a framed text at the foot of the page, or of the next where this one has no room for it.
func (p *page) framed(texts []string) {
	if len(texts) == 0 {
		return
	}
	h := p.frameHeight(texts)
	p.repeat = nil
	p.need(h + 2)
	p.y = max(p.y+2, p.bottom-h)
	p.pdf.SetDrawColor(0, 0, 0)
	p.pdf.SetLineWidth(0.5)
	p.pdf.Rect(p.left, p.y, p.width(), h, "D")
	p.font("B", p.size)
	for i, l := range p.frameLines(texts) {
		p.put(p.left+framePad, p.y+framePad+(float64(i)+0.8)*p.lh(), l)
	}
	p.y += h
}

const framePad = 2.5

func (p *page) frameLines(texts []string) []string {
	return p.bold().wrap(strings.Join(texts, "\n"), p.width()-2*framePad)
}

func (p *page) frameHeight(texts []string) float64 {
	return float64(len(p.frameLines(texts)))*p.lh() + 2*framePad
}

// ruled draws lines to write on down to the foot of the page, n at most, leaving keep free under them.
func (p *page) ruled(n int, keep float64) {
	step := 1.7 * p.lh()
	for range n {
		if p.y+step > p.bottom-keep {
			return
		}
		p.y += step
		p.rule(p.y, 0.2, 120)
	}
}

// box draws an empty box to tick.
func (p *page) box(x, y, side float64) {
	p.pdf.SetDrawColor(0, 0, 0)
	p.pdf.SetLineWidth(0.4)
	p.pdf.Rect(x, y, side, side, "D")
}

// latinOf turns text into code page 1252. A character it lacks becomes a question mark, one that does not print a
// dot; tabs become spaces, line breaks stay.
func latinOf(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\n':
			b.WriteByte('\n')
		case r == '\t' || unicode.Is(unicode.Zs, r):
			b.WriteByte(' ')
		case r == '\u2010' || r == '\u2011' || r == '\u2212': // hyphens, minus
			b.WriteByte('-')
		case unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp):
			b.WriteByte(0xb7)
		default:
			c, ok := charmap.Windows1252.EncodeRune(r)
			if !ok {
				c = '?'
			}
			b.WriteByte(c)
		}
	}
	return b.String()
}
