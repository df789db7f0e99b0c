// Package photo makes a picture from any phone or camera fit for the book: upright, no
// longer than Longest, a JPEG of at most wheel.MaxPhotoBytes, and without what the
// camera wrote beside it, such as the place.
package photo

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // can be read
	"strings"
	"sync"

	"golang.org/x/image/draw"
	_ "golang.org/x/image/webp" // can be read

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// Longest is how many pixels a photo's longer side has at most: our choice. It shows a
// crack of half a millimetre on a wheel 40 cm across.
const Longest = 1600

// MostBytes is the largest file that is read, and MostPixels the largest picture: our
// choice. They hold the full size of phones' cameras, and bound the memory to about
// 200 MB. Only a plain JPEG may have them all; other pictures take more memory each.
const (
	MostBytes  = 32 << 20
	MostPixels = 50_000_000
	mostOther  = MostPixels / 2
)

// HEIC refuses a picture in that format, which few programs can read.
const HEIC reason.Flat = "photo-is-heic"

// TooManyPixels refuses a picture that would take too much memory.
type TooManyPixels struct {
	Width  int `json:"width_px"`
	Height int `json:"height_px"`
	Most   int `json:"most_px"`
}

// Code implements reason.Reason.
func (TooManyPixels) Code() string { return "photo-of-too-many-pixels" }

// one lets one picture at a time take the memory that it takes.
var one sync.Mutex

// Fit gives the picture as the book keeps it: a JPEG, PNG or WebP picture becomes a JPEG.
// One that fits already keeps its pixels. It gives nil for nil.
func Fit(picture []byte) ([]byte, error) {
	if picture == nil {
		return nil, nil
	}
	if len(picture) > MostBytes {
		return nil, refuse(refusal.PhotoTooLarge{Bytes: len(picture), Most: MostBytes})
	}
	c, format, err := image.DecodeConfig(bytes.NewReader(picture))
	switch {
	case err != nil && isHEIC(picture):
		return nil, refuse(HEIC)
	case err != nil || c.Width <= 0 || c.Height <= 0:
		return nil, refuse(refusal.NotAPhoto)
	}
	bare, plain := withoutRemarks(picture, format)
	most := mostOther
	if plain {
		most = MostPixels
	}
	if c.Width > most/c.Height {
		return nil, refuse(TooManyPixels{c.Width, c.Height, most})
	}
	one.Lock()
	defer one.Unlock()
	m, _, err := image.Decode(bytes.NewReader(picture))
	if err != nil {
		return nil, refuse(refusal.NotAPhoto)
	}
	turn := orientation(picture, format)
	if bare != nil && turn == upright && max(c.Width, c.Height) <= Longest && len(bare) <= wheel.MaxPhotoBytes {
		return bare, nil
	}
	return compress(turned(shrunk(m, Longest), turn))
}

func refuse(why reason.Reason) error { return app.Refuse(why).In("photo") }

// isHEIC says whether a file is a picture in the container of ISO/IEC 23008-12, as HEIC
// and AVIF are.
func isHEIC(picture []byte) bool {
	if len(picture) < 12 || string(picture[4:8]) != "ftyp" {
		return false
	}
	for _, brand := range []string{"heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1", "avif", "avis"} {
		if strings.HasPrefix(string(picture[8:]), brand) {
			return true
		}
	}
	return false
}

// shrunk is a picture on white, its longer side at most so long. It halves as often as
// it can, so that each pixel counts and little memory is taken.
func shrunk(m image.Image, longest int) *image.RGBA {
	for {
		w, h := m.Bounds().Dx(), m.Bounds().Dy()
		long := max(w, h)
		next := min(long, max(longest, (long+1)/2))
		to := image.NewRGBA(image.Rect(0, 0, max(1, w*next/long), max(1, h*next/long)))
		draw.Draw(to, to.Rect, image.NewUniform(color.White), image.Point{}, draw.Src)
		draw.ApproxBiLinear.Scale(to, to.Rect, m, m.Bounds(), draw.Over, nil)
		if m = to; next <= longest {
			return to
		}
	}
}

// compress makes a JPEG that's small enough, first with more loss and then with fewer
// pixels.
func compress(m *image.RGBA) ([]byte, error) {
	var b bytes.Buffer
	for {
		for _, quality := range []int{85, 75, 60} {
			b.Reset()
			if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: quality}); err != nil {
				return nil, err
			}
			if b.Len() <= wheel.MaxPhotoBytes {
				return b.Bytes(), nil
			}
		}
		m = shrunk(m, max(m.Rect.Dx(), m.Rect.Dy())*4/5)
	}
}
