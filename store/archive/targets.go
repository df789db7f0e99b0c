package archive

import (
	"bytes"

	"github.com/google/uuid"

	"rindkeep/store"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// checkTargets proves that every strike withdraws an entry of its own subject, that every
// shared round is one of its own subject's, and that no two entries share an identity
// which the index does not tell apart.
func checkTargets(t *store.ReadTx) error {
	var subject uuid.UUID
	var of []wheel.Entry // of the subject, that target another
	seen := map[uuid.UUID]bool{}
	for k, v := range t.Records(layout.Entries) {
		if !bytes.Equal(subject[:], k[:16]) {
			if err := checkAll(t, of); err != nil {
				return err
			}
			of = of[:0]
			copy(subject[:], k)
			clear(seen)
		}
		if id := uuid.UUID(k[24:]); layout.BeginsAs(id, subject) {
			if seen[id] {
				return lines.Whole(lines.Fault{Is: "id-twice", Word: id.String()})
			}
			seen[id] = true
		}
		if pack.Targets(v) {
			e, err := pack.ReadEntry(k, v)
			if err != nil {
				return err
			}
			of = append(of, e)
		}
	}
	return checkAll(t, of)
}

func checkAll(t *store.ReadTx, of []wheel.Entry) error {
	_, shared := t.Own()
	for _, e := range of {
		o, ok, err := t.Entry(e.Target)
		switch {
		case err != nil:
			return err
		case !ok && shared: // it hasn't come yet
		case !ok || o.Subject != e.Subject:
			is := "strike-of-another"
			if e.SameRound() {
				is = "round-of-another"
			}
			return lines.Whole(lines.Fault{Is: is, Word: e.ID.String(), Other: e.Target.String()})
		}
	}
	return nil
}
