package sheet

import (
	"fmt"
	"slices"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"rindkeep/cmd/app/sheets"
	"rindkeep/cmd/words"
)

// Stock is a sheet or roll of labels. Widths, heights and steps are
// millimetres; Left and Top are where the first label of a sheet begins.
type Stock struct {
	Name          string
	What          string
	Paper         Paper // of a roll: one label
	Columns, Rows int
	Width, Height float64
	Left, Top     float64
	StepX, StepY  float64
	Pad           float64 // kept free inside a label, where printers do not print or cuts go astray
}

// Stocks are the labels there are: sheets of the grids that are common in
// trade, and the roll of 62 mm. Their measures are common practice, no source.
var Stocks = []Stock{
	{"a4-3x8", "A4, 24 labels of 70 by 37 mm", A4, 3, 8, 70, 37, 0, 0.5, 70, 37, 4.5},
	{"a4-3x7", "A4, 21 labels of 63.5 by 38.1 mm", A4, 3, 7, 63.5, 38.1, 7.25, 15.15, 66, 38.1, 2.5},
	{"a4-2x7", "A4, 14 labels of 99.1 by 38.1 mm", A4, 2, 7, 99.1, 38.1, 4.65, 15.15, 101.6, 38.1, 2.5},
	{"letter-2x5", "Letter, 10 labels of 4 by 2 inches", Letter, 2, 5, 101.6, 50.8, 3.96, 12.7, 106.36, 50.8, 3},
	{"letter-3x10", "Letter, 30 labels of 2 5/8 by 1 inch", Letter, 3, 10, 66.675, 25.4, 4.7625, 12.7, 69.85, 25.4, 2},
	{"roll-62", "a roll 62 mm wide, cut every 38 mm", Paper{"roll", 62, 38}, 1, 1, 62, 38, 0, 0, 62, 38, 2.5},
}

// FindStock finds a stock by its name, in any case.
func FindStock(name string) (Stock, bool) {
	i := slices.IndexFunc(Stocks, func(k Stock) bool { return strings.EqualFold(strings.TrimSpace(name), k.Name) })
	if i < 0 {
		return Stock{}, false
	}
	return Stocks[i], true
}

// PerSheet is how many labels one sheet has.
func (k Stock) PerSheet() int { return k.Columns * k.Rows }

// Labels lays out labels from the start-th place of the first sheet, counted
// from 1 along the rows; those before it are used up. With cut, thin lines show
// where to cut plain paper. The code on a label carries the tag and nothing else.
func Labels(h Head, k Stock, start int, cut bool, ls []sheets.Label) (Doc, error) {
	per := k.PerSheet()
	if start < 1 || start > per {
		return Doc{}, fmt.Errorf("there is no label %d on a sheet of %d", start, per)
	}
	p := &page{head: h}
	p.pdf = newPDF(h, "labels of "+h.Book, fpdf.SizeType{Wd: k.Paper.Width, Ht: k.Paper.Height})
	w, high := k.Width-2*k.Pad, k.Height-1.6*k.Pad
	fits := make([]labelFit, len(ls))
	size := wordsMost
	for i, l := range ls {
		var err error
		if fits[i], err = p.fitLabel(l, w, high); err != nil {
			return Doc{}, err
		}
		if fits[i].words >= wordsLeast {
			size = min(size, fits[i].words) // the same on all that can have it
		}
	}
	for i, l := range ls {
		at := (start - 1 + i) % per
		if i == 0 || at == 0 {
			p.pdf.AddPage()
		}
		x, y := k.Left+float64(at%k.Columns)*k.StepX, k.Top+float64(at/k.Columns)*k.StepY
		if cut {
			p.pdf.SetDrawColor(150, 150, 150)
			p.pdf.SetLineWidth(0.1)
			p.pdf.Rect(x, y, k.Width, k.Height, "D")
		}
		p.label(x+k.Pad, y+k.Pad*0.8, fits[i], l, min(size, fits[i].words))
	}
	return done(p.pdf)
}

// The sizes of a label's words under its tag, in points: the largest, the least that all labels of a sheet may come
// down to for one long title, and the least of all.
const (
	wordsMost  = 14.0
	wordsLeast = 8.0
	wordsFloor = 5.0
)

// labelFit is how a label's parts fit its frame: the tag over the whole width,
// as large as it goes, under it the code and beside that what the wheel is.
type labelFit struct {
	tag        []string
	size       float64 // points of the tag
	used       float64 // height of the tag
	code       code
	side       float64 // of the code, its quiet zone with it
	left       float64 // where the words begin
	wide, high float64 // room for the words
	words      float64 // the largest type in which they fit
}

func (p *page) fitLabel(l sheets.Label, w, h float64) (labelFit, error) {
	var f labelFit
	// On one line where that is large enough: a broken tag is easily misread.
	f.tag, f.size = p.biggest(l.Tag, w, h*0.36, 1, 48, 15)
	if len(f.tag) > 1 {
		f.tag, f.size = p.biggest(l.Tag, w, h*0.42, 4, 24, 5)
	}
	f.used = f.size*mmPerPoint*float64(len(f.tag)) + 0.6
	f.side = min(h-f.used, w*0.5)
	var err error
	if f.code, err = codeOf(l.Tag, f.side); err != nil {
		return f, err
	}
	f.left = f.side - f.side*quiet/float64(f.code.n+2*quiet) + 1
	f.wide, f.high = w-f.left, h-f.used
	for f.words = wordsMost; f.words > wordsFloor; f.words -= 0.5 {
		if lines := p.labelWords(l, f.wide, f.words); float64(len(lines))*f.words*mmPerPoint*1.2 <= f.high {
			break
		}
	}
	return f, nil
}

func (p *page) labelWords(l sheets.Label, w, size float64) []string {
	var out []string
	for _, t := range []string{l.Title, "lot " + l.Lot, "made " + words.DayMonthYear(l.Made)} {
		out = append(out, (face{p, "", size}).wrap(t, w)...)
	}
	return out
}

func (p *page) label(x, y float64, f labelFit, l sheets.Label, size float64) {
	p.font("B", f.size)
	for i, t := range f.tag {
		p.put(x, y+f.size*mmPerPoint*(float64(i)+0.78), t)
	}
	// At the frame's left edge the pad is quiet zone enough.
	f.code.draw(p.pdf, x+f.left-1-f.side+0.5, y+f.used+f.high-f.side, f.side)
	lines := p.labelWords(l, f.wide, size)
	step := size * mmPerPoint * 1.2
	if most := max(1, int(f.high/step)); len(lines) > most {
		lines = lines[:most]
	}
	ty := y + f.used + (f.high-float64(len(lines))*step)/2
	for i, t := range lines {
		p.put(x+f.left, ty+step*(float64(i)+0.8), t)
	}
}

// biggest breaks a word into at most so many lines in the largest bold type,
// between two sizes, in which they fit; in the smallest they may still not.
func (p *page) biggest(s string, w, h float64, most int, from, to float64) ([]string, float64) {
	for size := from; ; size -= 0.5 {
		lines := (face{p, "B", size}).wrap(s, w)
		if len(lines) <= most && float64(len(lines))*size*mmPerPoint <= h || size <= to {
			return lines, size
		}
	}
}
