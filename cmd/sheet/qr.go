package sheet

import (
	"fmt"
	"image/color"

	"codeberg.org/go-pdf/fpdf"
	"github.com/boombuler/barcode"
	"github.com/boombuler/barcode/qr"
)

// quiet is the white border of a QR code, in modules (ISO/IEC 18004).
const quiet = 4

// coarse is the module size, in millimetres, down to which the strongest error correction is used: a phone in a dim
// cellar reads it at arm's length. Our own measure, no source.
const coarse = 0.6

// code is a QR code.
type code struct {
	barcode.Barcode
	n     int    // modules along a side
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
		if n := b.Bounds().Dx(); best.n == 0 || n < best.n {
			best = code{b, n, l.String()}
		}
		if side/float64(best.n+2*quiet) >= coarse {
			break
		}
	}
	return best, nil
}

func (c code) dark(x, y int) bool { return color.GrayModel.Convert(c.At(x, y)).(color.Gray).Y < 128 }

// draw draws the code with its quiet zone in a square at x, y. Each run of dark modules is one rectangle, a hair
// higher than its row so that no white line shows between rows.
func (c code) draw(pdf *fpdf.Fpdf, x, y, side float64) {
	m := side / float64(c.n+2*quiet)
	pdf.SetFillColor(0, 0, 0)
	for j := range c.n {
		high := m
		if j+1 < c.n {
			high += m * 0.02
		}
		for from := 0; from < c.n; {
			to := from
			for to < c.n && c.dark(to, j) {
				to++
			}
			if to > from {
				pdf.Rect(x+float64(quiet+from)*m, y+float64(quiet+j)*m, float64(to-from)*m, high, "F")
			}
			from = to + 1
		}
	}
}
