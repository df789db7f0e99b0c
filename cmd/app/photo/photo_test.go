package photo

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"strings"
	"testing"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// corners is a picture of w by h with a colour in each quarter, named row by row: r, g, b
// or w.
func corners(letters string, w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	colours := map[byte]color.RGBA{
		'r': {255, 0, 0, 255}, 'g': {0, 255, 0, 255}, 'b': {0, 0, 255, 255}, 'w': {255, 255, 255, 255},
	}
	for y := range h {
		for x := range w {
			m.SetRGBA(x, y, colours[letters[x*2/w+y*2/h*2]])
		}
	}
	return m
}

// seen is the letters of the colours in the four corners, row by row.
func seen(m image.Image) string {
	var s strings.Builder
	w, h := m.Bounds().Dx(), m.Bounds().Dy()
	for _, at := range [][2]int{{1, 1}, {3, 1}, {1, 3}, {3, 3}} {
		r, g, bl, _ := m.At(w*at[0]/4, h*at[1]/4).RGBA()
		s.WriteByte("?bgkrpyw"[b2(bl)|b2(g)<<1|b2(r)<<2])
	}
	return s.String()
}

func b2(c uint32) int {
	if c > 0x8000 {
		return 1
	}
	return 0
}

func jpegOf(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// tiff is a TIFF header with an orientation and, in words, a place.
func tiff(order binary.AppendByteOrder, orientation uint16) []byte {
	b := []byte("MM")
	if order == binary.AppendByteOrder(binary.LittleEndian) {
		b = []byte("II")
	}
	b = order.AppendUint32(order.AppendUint16(b, 42), 8)
	b = order.AppendUint16(b, 2)
	for _, f := range [][2]uint16{{0x0100, 7}, {0x0112, orientation}} {
		b = order.AppendUint32(order.AppendUint16(order.AppendUint16(b, f[0]), 3), 1)
		b = order.AppendUint16(order.AppendUint16(b, f[1]), 0)
	}
	return append(order.AppendUint32(b, 0), "51.5 N, 0.1 W"...)
}

// taken is a JPEG as a phone writes it: Exif data, a comment, and a film behind its end.
func taken(picture, tiff []byte) []byte {
	segment := func(marker byte, data string) []byte {
		return append(binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(data)+2)), data...)
	}
	out := append([]byte{}, picture[:2]...)
	out = append(out, segment(app0, "JFIF\x00\x01\x02\x00\x00\x01\x00\x01\x00\x00")...)
	out = append(out, segment(app1, "Exif\x00\x00"+string(tiff))...)
	out = append(out, segment(app1, "http://ns.adobe.com/xap/1.0/\x00near 51.5 N")...)
	out = append(out, segment(comment, "taken at 51.5 N")...)
	return append(append(out, picture[2:]...), "ftypmp4 51.5 N"...)
}

func decoded(t *testing.T, kept []byte, err error) image.Image {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(kept, []byte("51.5")) || bytes.Contains(kept, []byte("Exif")) {
		t.Error("the photo still has its place or its Exif data")
	}
	if len(kept) > wheel.MaxPhotoBytes {
		t.Errorf("%d bytes", len(kept))
	}
	m, err := jpeg.Decode(bytes.NewReader(kept))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Exif 2.32 says in table 4 on which side of the picture each orientation has the first
// stored row and the first stored column.
func TestPhotosAreTurnedUpright(t *testing.T) {
	for orientation, stored := range map[uint16]string{
		1: "rgbw", 2: "grwb", 3: "wbgr", 4: "bwrg", 5: "rbgw", 6: "gwrb", 7: "wgbr", 8: "brwg",
	} {
		w, h := 40, 24
		if orientation >= 5 {
			w, h = h, w
		}
		m := corners(stored, w, h)
		for _, order := range []binary.AppendByteOrder{binary.BigEndian, binary.LittleEndian} {
			for name, file := range map[string][]byte{
				"jpeg": taken(jpegOf(t, m), tiff(order, orientation)), "png": pngOf(t, m, tiff(order, orientation)),
			} {
				kept, err := Fit(file)
				got := decoded(t, kept, err)
				if s := seen(got); s != "rgbw" || got.Bounds().Dx() != 40 || got.Bounds().Dy() != 24 {
					t.Errorf("%s, orientation %d, %v: %s, %v", name, orientation, order, s, got.Bounds())
				}
			}
		}
	}
}

// pngOf is a PNG with Exif data in a chunk of its own behind the header's.
func pngOf(t *testing.T, m image.Image, tiff []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	const header = 8 + 4 + 4 + 13 + 4
	file := append([]byte{}, b.Bytes()[:header]...)
	file = binary.BigEndian.AppendUint32(file, uint32(len(tiff)))
	chunk := append([]byte("eXIf"), tiff...)
	file = binary.BigEndian.AppendUint32(append(file, chunk...), crc32.ChecksumIEEE(chunk))
	return append(file, b.Bytes()[header:]...)
}

func TestAPhotoThatFitsKeepsItsPixels(t *testing.T) {
	plain := jpegOf(t, corners("rgbw", 40, 24))
	kept, err := Fit(taken(plain, tiff(binary.BigEndian, 1)))
	if err != nil || !bytes.Equal(kept, plain) {
		t.Errorf("%v; %d bytes became %d", err, len(plain), len(kept))
	}
	if again, err := Fit(kept); err != nil || !bytes.Equal(again, kept) {
		t.Errorf("a second time: %v", err)
	}
	if none, err := Fit(nil); none != nil || err != nil {
		t.Error(none, err)
	}
}

func TestLargePhotosAreMadeSmall(t *testing.T) {
	noise := image.NewNRGBA(image.Rect(0, 0, 800, 600)) // hard to compress
	r := rand.New(rand.NewPCG(1, 2))
	for i := range noise.Pix {
		noise.Pix[i] = byte(r.Uint32())
	}
	for _, c := range []struct {
		name string
		file []byte
		w, h int // 0: any
		seen string
	}{
		{"wide", jpegOf(t, corners("rgbw", 4000, 3000)), 1600, 1200, "rgbw"},
		{"tall", jpegOf(t, corners("rgbw", 300, 6401)), 74, 1600, "rgbw"},
		{"turned", taken(jpegOf(t, corners("gwrb", 2000, 4000)), tiff(binary.LittleEndian, 6)), 1600, 800, "rgbw"},
		{"a line", jpegOf(t, corners("rrbb", 1, 5000)), 1, 1600, "rrbb"},
		{"noise, half see-through", pngOf(t, noise, nil), 0, 0, ""},
		{"grey", jpegOf(t, image.NewGray(image.Rect(0, 0, 1700, 10))), 1600, 9, ""},
		{"16 bits a channel", pngOf(t, image.NewRGBA64(image.Rect(0, 0, 1700, 10)), nil), 1600, 9, "wwww"},
		// 1 by 1, made by hand
		{"webp", base64Of(t, "UklGRhoAAABXRUJQVlA4TA0AAAAvAAAAEAcQERGIiP4HAA=="), 1, 1, ""},
	} {
		kept, err := Fit(c.file)
		got := decoded(t, kept, err)
		if w, h := got.Bounds().Dx(), got.Bounds().Dy(); c.w > 0 && (w != c.w || h != c.h) || max(w, h) > Longest {
			t.Errorf("%s: %d x %d, want %d x %d", c.name, w, h, c.w, c.h)
		}
		if s := seen(got); c.seen != "" && s != c.seen {
			t.Errorf("%s: %s, want %s", c.name, s, c.seen)
		}
	}
}

func base64Of(t *testing.T, s string) []byte {
	t.Helper()
	b, err := base64.StdEncoding.DecodeString(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestWhatIsNoPhotoIsRefused(t *testing.T) {
	header := func(w, h uint32) []byte { // of a PNG; nothing is behind it
		ihdr := append(binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32([]byte("IHDR"), w), h), 8, 2, 0, 0, 0)
		b := append([]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0d"), ihdr...)
		return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(ihdr))
	}
	whole := jpegOf(t, corners("rgbw", 64, 48))
	for _, c := range []struct {
		name string
		file []byte
		want reason.Reason
	}{
		{"nothing", []byte{}, refusal.NotAPhoto},
		{"text", []byte("not a picture"), refusal.NotAPhoto},
		{"cut off in its frame", whole[:20], refusal.NotAPhoto},
		{"cut off in its scan", whole[:len(whole)/2+100], refusal.NotAPhoto},
		{"heic", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), HEIC},
		{"avif", []byte("\x00\x00\x00\x18ftypavif\x00\x00\x00\x00"), HEIC},
		{"a film", []byte("\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00"), refusal.NotAPhoto},
		{"a bomb", header(60_000, 60_000), TooManyPixels{60_000, 60_000, mostOther}},
		{"a bomb whose pixels overflow", header(1<<31-1, 1<<31-1), refusal.NotAPhoto},
		{"a huge file", make([]byte, MostBytes+1), refusal.PhotoTooLarge{Bytes: MostBytes + 1, Most: MostBytes}},
	} {
		kept, err := Fit(c.file)
		var r *app.Refusal
		if !errors.As(err, &r) || r.Why != c.want || r.At.Field != "photo" || kept != nil {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}

func FuzzFit(f *testing.F) {
	f.Add([]byte("not a picture"))
	f.Add(jpegOf(f, corners("rgbw", 16, 8)))
	f.Add(taken(jpegOf(f, corners("rgbw", 16, 8)), tiff(binary.LittleEndian, 6)))
	f.Fuzz(func(t *testing.T, file []byte) {
		if c, _, err := image.DecodeConfig(bytes.NewReader(file)); err == nil && c.Width*c.Height > 1<<20 {
			return // only slow
		}
		kept, err := Fit(file)
		if err != nil || kept == nil {
			return
		}
		if c, err := jpeg.DecodeConfig(bytes.NewReader(kept)); err != nil || max(c.Width, c.Height) > Longest {
			t.Errorf("kept %v, %v", c, err)
		}
	})
}
