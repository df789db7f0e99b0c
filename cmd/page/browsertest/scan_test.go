package browsertest

import (
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/boombuler/barcode"
	"github.com/boombuler/barcode/qr"
)

// A phone without a camera for pages, or without https, photographs the label.
func TestALabelIsReadFromAPhotograph(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	b := open(t, s.addr, phone, "/")
	tag := bk.lot("cellar/C/2") + "-03"
	code, err := qr.Encode(tag, qr.M, qr.Auto)
	if err != nil {
		t.Fatal(err)
	}
	if code, err = barcode.Scale(code, 400, 400); err != nil {
		t.Fatal(err)
	}
	shot := filepath.Join(t.TempDir(), "label.png")
	f, err := os.Create(shot)
	if err != nil {
		t.Fatal(err)
	}
	if err := png.Encode(f, code); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	b.tap(`document.getElementById("any")`)
	b.until(isOpen("pad"))
	b.tapUntil(`document.getElementById("pad-scan")`, isOpen("scan"))
	b.until(`document.getElementById("scan-said").textContent !== ""`)
	b.upload("#scan-file", shot)
	b.until(`!` + isOpen("scan") + ` && document.getElementById("pad-tag").value === ` + q(tag))
}
