package intake

import (
	"bufio"
	"bytes"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// decoded is a text as UTF-8: UTF-16 by its byte order mark, and else Windows-1252, of which Latin-1 is a part, from
// the first byte that can't be UTF-8, in a text that hasn't shown that it's UTF-8. head is its beginning.
func decoded(r *bufio.Reader, head []byte) io.Reader {
	switch {
	case bytes.HasPrefix(head, []byte("\xff\xfe")), bytes.HasPrefix(head, []byte("\xfe\xff")):
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder().Reader(r)
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		_, _ = r.Discard(3)
		return r
	}
	return transform.NewReader(r, &western{})
}

// western turns a text into UTF-8 as decoded says.
type western struct{ utf8, latin bool }

// Reset implements transform.Transformer.
func (w *western) Reset() { *w = western{} }

// Transform implements transform.Transformer.
func (w *western) Transform(dst, src []byte, atEOF bool) (nDst, nSrc int, err error) {
	for nSrc < len(src) {
		if len(dst)-nDst < utf8.UTFMax {
			return nDst, nSrc, transform.ErrShortDst
		}
		b := src[nSrc]
		if b < utf8.RuneSelf {
			dst[nDst] = b
			nDst, nSrc = nDst+1, nSrc+1
			continue
		}
		size := 1
		if !w.latin {
			if !atEOF && !utf8.FullRune(src[nSrc:]) {
				return nDst, nSrc, transform.ErrShortSrc
			}
			if _, size = utf8.DecodeRune(src[nSrc:]); size > 1 {
				w.utf8 = true
			} else {
				w.latin = !w.utf8
			}
		}
		if w.latin {
			nDst += utf8.EncodeRune(dst[nDst:], charmap.Windows1252.DecodeByte(b))
		} else {
			nDst += copy(dst[nDst:], src[nSrc:nSrc+size])
		}
		nSrc += size
	}
	return nDst, nSrc, nil
}
