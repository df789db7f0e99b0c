package sheet

import (
	"fmt"
	"math"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	"github.com/google/go-cmp/cmp"

	"rindkeep/cmd/app/sheets"
)

func TestLabelsFillTheSheetFromTheStartGiven(t *testing.T) {
	var ls []sheets.Label
	for i := range 30 {
		ls = append(ls, sheets.Label{Tag: fmt.Sprintf("L%02d", i+1), Title: "Edam", Lot: "L"})
	}
	for _, c := range []struct {
		name  string
		stock string
		start int
		pages []int // labels on each
	}{
		{"a whole sheet and the rest", "a4-3x8", 1, []int{24, 6}},
		{"six used up", "a4-3x8", 7, []int{18, 12}},
		{"only the last is left", "letter-2x5", 10, []int{1, 10, 10, 9}},
		{"exactly full", "letter-3x10", 1, []int{30}},
	} {
		k, ok := FindStock(c.stock)
		if !ok {
			t.Fatal(c.stock)
		}
		var got []int
		for _, p := range wordsOf(t, must(t)(Labels(head, k, c.start, false, ls))) {
			got = append(got, len(regexp.MustCompile(`L\d\d`).FindAllString(p, -1)))
		}
		if d := cmp.Diff(c.pages, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
	for _, start := range []int{0, -1, 25} {
		if _, err := Labels(head, Stocks[0], start, false, ls); err == nil {
			t.Errorf("label %d of 24 was printed", start)
		}
	}
}

func TestEveryStockLiesOnItsPaper(t *testing.T) {
	for _, k := range Stocks {
		right := k.Left + float64(k.Columns-1)*k.StepX + k.Width
		foot := k.Top + float64(k.Rows-1)*k.StepY + k.Height
		if k.Left < 0 || k.Top < 0 || right > k.Paper.Width+0.01 || foot > k.Paper.Height+0.01 || k.StepX < k.Width ||
			k.StepY < k.Height {
			t.Errorf("%s: its labels end at %.2f, %.2f of a paper of %.2f by %.2f", k.Name, right, foot, k.Paper.Width,
				k.Paper.Height)
		}
		// What is printed stands in the middle of the paper, as on any sheet cut
		// for a printer that may take it either way round.
		if l, r := k.Left, k.Paper.Width-right; math.Abs(l-r) > 0.1 {
			t.Errorf("%s: %.2f mm to the left, %.2f to the right", k.Name, l, r)
		}
		if a, b := k.Top, k.Paper.Height-foot; math.Abs(a-b) > 0.1 {
			t.Errorf("%s: %.2f mm above, %.2f below", k.Name, a, b)
		}
	}
}

// read gives what a scanner reads from a print of the first page in a frame
// of so many millimetres: the bytes of the code, and nothing made of them.
func read(t *testing.T, d Doc, x, y, w, h float64) string {
	t.Helper()
	need(t, "pdftoppm", "zbarimg")
	const dpi = 250
	dots := func(mm float64) string { return strconv.Itoa(int(mm * dpi / 25.4)) }
	p := saved(t, d)
	run(t, "pdftoppm", "-gray", "-r", strconv.Itoa(dpi), "-x", dots(x), "-y", dots(y), "-W", dots(w), "-H", dots(h),
		"-singlefile", p, p)
	out, err := exec.Command("zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", "-Sbinary", p+".pgm").Output()
	if err != nil {
		return fmt.Sprintf("nothing: %v", err)
	}
	return strings.TrimSuffix(string(out), "\n")
}

// codeTags are tags a book takes: of every kind of content a code packs in its
// own way, the longest, and letters the paper itself cannot show.
var codeTags = []string{
	"261121A-01", "261121A-02", "261121A-03", "7", "0042", "A$%*+-.:", "lower-case_1", "Comté-12", "ő-1", "奶酪-01", "🧀-9",
	strings.Repeat("W", 60), strings.Repeat("é", 30), strings.Repeat("9", 60), `back\slash`, "(paren)", "{nb}",
}

func TestEveryCodeIsReadBackAsTheTag(t *testing.T) {
	for n, k := range Stocks {
		tags := codeTags
		if n > 0 { // one stock with them all
			tags = []string{codeTags[0], codeTags[6], codeTags[11]}
		}
		var ls []sheets.Label
		for _, x := range tags {
			ls = append(ls, sheets.Label{Tag: x, Title: "Cheddar, cloth-bound", Lot: "261121A", Made: 20778})
		}
		for i, x := range tags {
			per := min(k.PerSheet(), len(ls))
			d := must(t)(Labels(head, k, 1, true, ls[i/per*per:]))
			at := i % per
			left, top := k.Left+float64(at%k.Columns)*k.StepX, k.Top+float64(at/k.Columns)*k.StepY
			if got := read(t, d, left, top, k.Width, k.Height); got != x {
				t.Errorf("%s: label %d says %q, want %q", k.Name, i+1, got, x)
			}
		}
	}
	if got := read(t, must(t)(Wheel(head, card)), 0, 0, A4.Width, A4.Height); got != card.Tag {
		t.Errorf("the code on a card says %q, want %q", got, card.Tag)
	}
}

func TestCodesStandDampAndKeepTheirQuietZone(t *testing.T) {
	need(t, "pdftoppm")
	roll, ok := FindStock("roll-62")
	if !ok {
		t.Fatal("no roll")
	}
	const perMM = 20 // 508 dots an inch
	for _, tag := range []string{"261121A-01", "gyjpq-01", strings.Repeat("W", 60), strings.Repeat("é", 30)} {
		l := sheets.Label{Tag: tag, Title: "Cheddar, cloth-bound", Lot: "261121A", Made: 20778}
		p := &page{pdf: newPDF(head, "", fpdfSize(roll))}
		f, err := p.fitLabel(l, roll.Width-2*roll.Pad, roll.Height-1.6*roll.Pad)
		if err != nil {
			t.Fatal(err)
		}
		if f.code.level != "H" && f.code.level != "Q" {
			t.Errorf("%s: error correction %s, want Q or H", tag, f.code.level)
		}
		n := f.code.n + 2*quiet
		m := f.side / float64(n)
		if m < 0.3 {
			t.Errorf("%s: modules of %.2f mm are too small to read", tag, m)
		}
		x, y := roll.Pad+f.left-1-f.side+0.5, roll.Pad*0.8+f.used+f.high-f.side
		dark := picture(t, must(t)(Labels(head, roll, 1, false, []sheets.Label{l})), perMM*25.4)
		for j := range n {
			for i := range n {
				px, py := int((x+(float64(i)+0.5)*m)*perMM), int((y+(float64(j)+0.5)*m)*perMM)
				want := i >= quiet && j >= quiet && i < n-quiet && j < n-quiet && f.code.dark(i-quiet, j-quiet)
				if got := dark(px, py); got != want {
					t.Fatalf("%s: the module %d, %d (with the quiet zone) is dark: %v, want %v", tag, i, j, got, want)
				}
			}
		}
	}
}

// picture renders the first page and says of a dot whether it is dark.
func picture(t *testing.T, d Doc, dpi float64) func(x, y int) bool {
	t.Helper()
	p := saved(t, d)
	b := []byte(run(t, "pdftoppm", "-gray", "-r", fmt.Sprint(dpi), "-singlefile", p))
	var w, h, most int
	if _, err := fmt.Sscanf(string(b[:min(len(b), 40)]), "P5\n%d %d\n%d", &w, &h, &most); err != nil {
		t.Fatalf("no picture: %v", err)
	}
	dots := b[len(b)-w*h:]
	return func(x, y int) bool { return x >= 0 && y >= 0 && x < w && y < h && dots[y*w+x] < 128 }
}

func fpdfSize(k Stock) fpdf.SizeType { return fpdf.SizeType{Wd: k.Paper.Width, Ht: k.Paper.Height} }
