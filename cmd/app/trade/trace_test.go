package trade

import (
	"testing"

	"rindkeep/wheel"
)

func TestADocumentIsReadBackFromTheNoteItWasPutIn(t *testing.T) {
	for _, c := range []struct{ ref, note, kept string }{
		{"DN-1", "", "document DN-1"},
		{"DN-1", "two boxes; cold", "document DN-1; two boxes; cold"},
		{"", "two boxes", "two boxes"},
		{"", "", ""},
		{"sheet 4", "document of origin", "document sheet 4; document of origin"},
	} {
		kept := WithDocument(c.ref, c.note)
		if kept != c.kept {
			t.Errorf("document %q with note %q: %q, want %q", c.ref, c.note, kept, c.kept)
		}
		if got := documentOf(wheel.Entry{Note: kept}); got != c.ref {
			t.Errorf("the document in %q: %q, want %q", kept, got, c.ref)
		}
	}
}
