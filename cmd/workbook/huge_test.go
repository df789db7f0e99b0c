package workbook

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"io"
	"testing"
)

// TestAPartThatIsTooLargeIsRefusedUnread has parts that say how large they unpack: only
// those within the limit are unpacked at all.
func TestAPartThatIsTooLargeIsRefusedUnread(t *testing.T) {
	for _, c := range []struct {
		size uint64
		huge bool
	}{{maxUnpacked + 1, true}, {maxUnpacked, false}} {
		var f bytes.Buffer
		z := zip.NewWriter(&f)
		w, err := z.CreateRaw(&zip.FileHeader{Name: "_rels/.rels", Method: zip.Deflate, UncompressedSize64: c.size})
		if err == nil {
			_, err = io.WriteString(w, "not deflated")
		}
		if err = errors.Join(err, z.Close()); err != nil {
			t.Fatal(err)
		}
		_, err = Open(context.Background(), bytes.NewReader(f.Bytes()), int64(f.Len()))
		if errors.Is(err, errHuge) != c.huge {
			t.Errorf("%d bytes: %v", c.size, err)
		}
	}
}
