package cli

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"rindkeep/cave/reason"
	"rindkeep/cmd/words"
)

// A book holds reasons by number and figures: no sentence of the catalogue is
// among its bytes, so that another wording changes no book, index or check. The
// sentences are looked for in the pieces that lie between their figures.
func TestADemoBookHoldsNoSentenceOfOurs(t *testing.T) {
	w := demoWorld(t)
	w.must("law follow US --quiet")
	w.must("check 261121A-01 --dry-to-touch --gas yes --quiet") // asks for checks of the others
	w.must("book releasers Nora --by Orla --quiet")
	w.want(exitDone, "", "wheel", "send", "261116A-03", "--to", "Shop", "--document", "D-7",
		"--override", "report 12: not detected", "--quiet")
	card := w.must("wheel show 261116A-03")
	if !strings.Contains(card, "document D-7, sent although") {
		t.Errorf("the card does not say how it was sent:\n%s", card)
	}
	book, err := os.ReadFile(w.book)
	if err != nil {
		t.Fatal(err)
	}
	for _, kept := range []string{"fault-seen", "held-by-law", `"override":"report 12: not detected"`} {
		if !bytes.Contains(book, []byte(kept)) {
			t.Errorf("the book does not hold %s", kept)
		}
	}
	sentences := []string{" seen on ", "sent although held", "document D-7"}
	for n := 1; n <= reason.Newest(); n++ {
		if r := reason.Numbered(n); r != nil {
			all := (words.Printer{}).Sentence(r) + "0" + (words.Printer{}).Brief(reason.List{r})
			for _, part := range strings.FieldsFunc(all, func(c rune) bool { return c >= '0' && c <= '9' }) {
				if part = strings.Trim(part, " .,:;%()"); strings.Count(part, " ") >= 2 { // fewer words may be anybody's
					sentences = append(sentences, part)
				}
			}
		}
	}
	if len(sentences) < 60 {
		t.Errorf("only %d sentences to look for", len(sentences))
	}
	for _, s := range sentences {
		if bytes.Contains(book, []byte(s)) {
			t.Errorf("the book holds %q", s)
		}
	}
}
