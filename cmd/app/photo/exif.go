package photo

import (
	"bytes"
	"encoding/binary"
	"image"
)

// upright is the orientation of a picture whose rows are stored from the top (TIFF 6.0,
// section 8, Orientation; Exif 2.32, table 4).
const upright = 1

// Markers of a JPEG (ITU-T T.81, table B.1).
const (
	baseline = 0xc0 // start of frame
	extended = 0xc1 // start of frame
	ends     = 0xd9
	scan     = 0xda
	app0     = 0xe0
	app1     = 0xe1
	app14    = 0xee // says how colours are coded
	app15    = 0xef
	comment  = 0xfe
)

// eachSegment gives the segments of a JPEG up to its end, each with its marker and, of a
// scan, all its data. It says whether the picture is whole.
func eachSegment(picture []byte, tell func(marker byte, segment []byte)) (whole bool) {
	at := 2
	for at+4 <= len(picture) && picture[at] == 0xff {
		marker := picture[at+1]
		if marker == 0xff { // fill
			at++
			continue
		}
		end := at + 2 + int(binary.BigEndian.Uint16(picture[at+2:]))
		if end > len(picture) {
			return false
		}
		if marker == scan {
			for ; end+1 < len(picture); end++ {
				if next := picture[end+1]; picture[end] == 0xff && next != 0 && (next < 0xd0 || next > 0xd7) {
					break
				}
			}
		}
		tell(marker, picture[at:end])
		if at = end; at+2 <= len(picture) && picture[at] == 0xff && picture[at+1] == ends {
			return true
		}
	}
	return false
}

// withoutRemarks is a JPEG with nothing but what its pixels need: no Exif, no place, no
// preview, no comment, and nothing behind its end. It is nil where the file isn't a JPEG or
// is cut off. plain says that it's a JPEG that can be decoded row by row.
func withoutRemarks(picture []byte, format string) (bare []byte, plain bool) {
	if format != "jpeg" {
		return nil, false
	}
	bare = append(make([]byte, 0, len(picture)), picture[:2]...)
	whole := eachSegment(picture, func(marker byte, segment []byte) {
		plain = plain || marker == baseline || marker == extended
		if marker == app14 || marker != comment && (marker < app0 || marker > app15) {
			bare = append(bare, segment...)
		}
	})
	if !whole {
		return nil, plain
	}
	return append(bare, 0xff, ends), plain
}

// orientation is how a picture is stored, by its Exif data: 1 to 8, upright where it
// doesn't say.
func orientation(picture []byte, format string) int {
	is := upright
	read := func(exif []byte) {
		if o := orientationIn(bytes.TrimPrefix(exif, []byte("Exif\x00\x00"))); o > upright && o <= 8 {
			is = o
		}
	}
	switch format {
	case "jpeg":
		eachSegment(picture, func(marker byte, segment []byte) {
			if marker == app1 && bytes.HasPrefix(segment[4:], []byte("Exif\x00\x00")) {
				read(segment[4:])
			}
		})
	case "png": // a length, a name, the data and a checksum
		for at := 8; at+12 <= len(picture); {
			n := int64(binary.BigEndian.Uint32(picture[at:]))
			if n > int64(len(picture)-at-12) {
				break
			}
			if string(picture[at+4:at+8]) == "eXIf" {
				read(picture[at+8 : at+8+int(n)])
			}
			at += 12 + int(n)
		}
	case "webp": // a name, a length and the data, filled up to an even length
		for at := 12; at+8 <= len(picture); {
			n := int64(binary.LittleEndian.Uint32(picture[at+4:]))
			if n > int64(len(picture)-at-8) {
				break
			}
			if string(picture[at:at+4]) == "EXIF" {
				read(picture[at+8 : at+8+int(n)])
			}
			at += 8 + int(n+n%2)
		}
	}
	return is
}

// orientationIn reads the orientation from the first directory of a TIFF header (TIFF
// 6.0, section 2); 0 where there is none.
func orientationIn(tiff []byte) int {
	if len(tiff) < 8 {
		return 0
	}
	var order binary.ByteOrder = binary.BigEndian
	if string(tiff[:2]) == "II" {
		order = binary.LittleEndian
	}
	at := int64(order.Uint32(tiff[4:]))
	if at+2 > int64(len(tiff)) {
		return 0
	}
	const field, tag, short = 12, 0x0112, 3
	for n := int64(order.Uint16(tiff[at:])); n > 0; n-- {
		f := at + 2 + (n-1)*field
		if f+field <= int64(len(tiff)) && order.Uint16(tiff[f:]) == tag && order.Uint16(tiff[f+2:]) == short {
			return int(order.Uint16(tiff[f+8:]))
		}
	}
	return 0
}

// turned is a picture turned upright.
func turned(m *image.RGBA, orientation int) *image.RGBA {
	if orientation == upright {
		return m
	}
	w, h := m.Rect.Dx(), m.Rect.Dy()
	to := image.NewRGBA(image.Rect(0, 0, w, h))
	if orientation >= 5 { // rows were columns
		to = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for y := range to.Rect.Dy() {
		for x := range to.Rect.Dx() {
			to.SetRGBA(x, y, m.RGBAAt(stored(orientation, x, y, w, h)))
		}
	}
	return to
}

// stored is where a pixel of the upright picture is in the one stored, w by h.
func stored(orientation, x, y, w, h int) (int, int) {
	right, below := w-1, h-1
	switch orientation {
	case 2:
		return right - x, y
	case 3:
		return right - x, below - y
	case 4:
		return x, below - y
	case 5:
		return y, x
	case 6:
		return y, below - x
	case 7:
		return right - y, below - x
	default: // 8
		return right - y, x
	}
}
