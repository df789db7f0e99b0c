package trade

import (
	"testing"

	"rindkeep/cave/reason"
	"rindkeep/wheel"
)

func TestADocumentIsReadBackFromItsFieldOrAnOldNote(t *testing.T) {
	for _, c := range []struct{ note, detail, ref string }{
		{"document DN-1", "", "DN-1"},
		{"document DN-1; two boxes; cold", "", "DN-1"},
		{"two boxes", "", ""},
		{"", "", ""},
		{"document sheet 4; document of origin", "", "sheet 4"},
		{"document of origin", wheel.Sending{Document: "sheet 4"}.Detail(), "sheet 4"},
		{"document of origin", wheel.Sending{Held: reason.List{wheel.HeldSince{Words: "x"}}, Override: "y"}.Detail(), ""},
	} {
		e := wheel.Entry{Kind: wheel.Sent, Note: c.note, Detail: c.detail}
		if got := documentOf(e); got != c.ref {
			t.Errorf("the document of %q, %s: %q, want %q", c.note, c.detail, got, c.ref)
		}
	}
}
