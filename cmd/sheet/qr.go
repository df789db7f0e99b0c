package sheet

import (
	"fmt"
	"image/color"

	"codeberg.org/go-pdf/fpdf"
	"github.com/boombuler/barcode/qr"
)

// quiet is the white border of a QR code, in modules (ISO/IEC 18004).
const quiet = 4

// coarse is the module size, in millimetres, down to which the strongest error correction is used: a phone in a dim
// cellar reads it at arm's length. Our own measure, no source.
const coarse = 0.6

// code is a QR code: dark modules by row and column.
type code struct {
	dark  [][]bool
	level string // L, M, Q or H
}

// codeOf makes the QR code of a text for a square of the given side: of level H, which stands 30 % of it being
// spoilt, or of level Q, 25 %, where H would make its modules small (ISO/IEC 18004).
func codeOf(text string, side float64) (code, error) {
	var best code
	for _, l := range []qr.ErrorCorrectionLevel{qr.H, qr.Q} {
		b, err := qr.Encode(text, l, qr.Auto)
		if err != nil {
			return code{}, fmt.Errorf("no QR code holds a text of %d bytes: %w", len(text), err)
		}
		n := b.Bounds().Dx()
		c := code{level: l.String(), dark: make([][]bool, n)}
		for y := range n {
			c.dark[y] = make([]bool, n)
			for x := range n {
				c.dark[y][x] = color.GrayModel.Convert(b.At(x, y)).(color.Gray).Y < 128
			}
		}
		if best.dark == nil || n < len(best.dark) {
			best = c
		}
		if side/float64(n+2*quiet) >= coarse {
			break
		}
	}
	return best, nil
}

// draw draws the code with its quiet zone in a square at x, y. Each run of dark modules is one rectangle, a hair
// higher than its row so that no white line shows between rows.
func (c code) draw(pdf *fpdf.Fpdf, x, y, side float64) {
	n := len(c.dark)
	m := side / float64(n+2*quiet)
	pdf.SetFillColor(0, 0, 0)
	for j, row := range c.dark {
		for i := 0; i < n; i++ {
			if !row[i] {
				continue
			}
			from := i
			for i < n && row[i] {
				i++
			}
			high := m
			if j+1 < n {
				high += m * 0.02
			}
			pdf.Rect(x+float64(quiet+from)*m, y+float64(quiet+j)*m, float64(i-from)*m, high, "F")
		}
	}
}
