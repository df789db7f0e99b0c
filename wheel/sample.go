package wheel

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// LabSample is the Detail of a Sampled entry of a make: what a laboratory is to look for
// in it. A sample for several tests has an entry for each.
type LabSample struct {
	Number string `json:"number"`
	Test   string `json:"test"` // Listeria monocytogenes
	Lab    string `json:"lab,omitempty"`
}

// LabResult is the Detail of a Resulted entry of a make: what the laboratory found, and
// how that stood to the limits when it was entered.
type LabResult struct {
	Sample uuid.UUID `json:"sample"` // the Sampled entry
	Number string    `json:"number"` // its own
	Test   string    `json:"test"`
	Found  string    `json:"found"` // as Finding.String writes it
	Report string    `json:"report,omitempty"`
	Limits []Judged  `json:"limits,omitempty"` // it was held against; none: there were none
}

// Judged is a limit, and whether a result is inside it.
type Judged struct {
	Limit   string `json:"limit"` // its name
	Asks    string `json:"asks"`  // as a Finding: "not detected in 25 g", "100 cfu/g"
	Source  string `json:"source"`
	Edition string `json:"edition,omitempty"`
	Read    string `json:"read"` // when it was read, or from memory
	Inside  bool   `json:"inside"`
}

// Inside is true where the result is inside every limit, and there is one. A result
// that no limit judges ends no hold.
func (r LabResult) Inside() bool {
	return len(r.Limits) > 0 && !slices.ContainsFunc(r.Limits, func(j Judged) bool { return !j.Inside })
}

// Finding is what a laboratory found of one thing.
type Finding struct {
	Seen  Seen    // Yes: detected, No: not detected, in Grams; 0: counted
	Grams float64 // examined; 0: not said
	Mark  string  // of Count: "<" (fewer than), ">" (more than) or ""
	Count float64
	Unit  string // of Count: cfu/g; "": not said
}

// detectedWords are what laboratories write in English, German, French, Italian and Spanish, without accents. LOD, LD
// and NWG are the limit of detection; under a limit of quantification something may be there, so it isn't among them.
var detectedWords = seenWords(map[Seen]string{
	Yes: "detected, present, positive, found, nachgewiesen, nachweisbar, gefunden, positiv, detecte, detectee, " +
		"presence, positif, rilevato, presente, presenza, positivo, detectado, presencia",
	No: "not detected, none detected, not found, absent, negative, nd, n.d., n d, n. d., <lod, < lod, " +
		"nicht nachweisbar, nicht nachgewiesen, nicht gefunden, n.n., nn, n. n., negativ, <nwg, < nwg, " +
		"absence, non detecte, non detectee, negatif, <ld, < ld, assente, assenza, non rilevato, non rilevabile, " +
		"negativo, ausente, ausencia, no detectado, no detectada, no detectable",
})

func seenWords(lists map[Seen]string) map[string]Seen {
	out := map[string]Seen{}
	for seen, words := range lists {
		for w := range strings.SplitSeq(words, ", ") {
			out[w] = seen
		}
	}
	return out
}

// unaccented are the letters of those words without their accents.
var unaccented = strings.NewReplacer("é", "e", "è", "e", "à", "a", "ó", "o")

// ParseFinding reads a result as laboratories write it: "not detected in 25 g",
// "<10 cfu/g", "240".
func ParseFinding(words string) (Finding, error) {
	w := strings.Join(strings.Fields(words), " ")
	f, ok := parseSeen(unaccented.Replace(strings.ToLower(w)))
	if !ok {
		f, ok = parseCount(w)
	}
	if !ok {
		return Finding{}, reason.Err(reason.Unreadable{What: "finding", Word: words})
	}
	return f, nil
}

// parseSeen reads whether something was detected, in words in lower case.
func parseSeen(w string) (f Finding, ok bool) {
	for _, in := range []string{" in ", "/", " dans ", " en ", " pro ", " per ", " por "} {
		if i := strings.LastIndex(w, in); i > 0 && f.Seen == 0 {
			f.Seen = detectedWords[strings.TrimSpace(w[:i])]
			f.Grams, _ = strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(w[i+len(in):], "g")), 64)
		}
	}
	if f.Seen != 0 {
		return f, f.Grams > 0 && f.Grams <= 10000
	}
	f = Finding{Seen: detectedWords[w]}
	return f, f.Seen != 0
}

// parseCount reads a count with its unit.
func parseCount(w string) (f Finding, ok bool) {
	for _, m := range []string{"<", ">"} {
		if rest, marked := strings.CutPrefix(w, m); marked {
			f.Mark, w = m, strings.TrimSpace(rest)
			break
		}
	}
	number := w
	if i := strings.IndexFunc(w, func(r rune) bool { return !strings.ContainsRune("0123456789.,eE+", r) }); i >= 0 {
		number, f.Unit = w[:i], strings.TrimSpace(w[i:])
	}
	read := func(w string) (float64, error) { return strconv.ParseFloat(w, 64) }
	if strings.Contains(number, ",") { // 1,200 or 1 200: nobody knows what it means
		read = quantity.Number
	}
	var err error
	if f.Count, err = read(number); err != nil || !(f.Count >= 0 && f.Count <= 1e15) {
		return f, false
	}
	if f.Unit == "" {
		return f, true
	}
	if low := strings.ToLower(f.Unit); strings.HasPrefix(low, "cfu") {
		f.Unit = low // other units stay as the laboratory writes them
	}
	letter := f.Unit[0] == '%' || f.Unit[0]|0x20 >= 'a' && f.Unit[0]|0x20 <= 'z'
	return f, letter && cave.CheckName("unit", f.Unit) == nil
}

// String is the finding as it is kept and shown.
func (f Finding) String() string {
	if f.Seen == 0 {
		return strings.TrimSpace(f.Mark + strconv.FormatFloat(f.Count, 'f', -1, 64) + " " + f.Unit)
	}
	s := "detected"
	if f.Seen == No {
		s = "not detected"
	}
	if f.Grams > 0 {
		s += " in " + strconv.FormatFloat(f.Grams, 'f', -1, 64) + " g"
	}
	return s
}

// Detail is the sample as an entry's Detail holds it.
func (s LabSample) Detail() string { return encodeDetail(s) }

// Detail is the result as an entry's Detail holds it.
func (r LabResult) Detail() string { return encodeDetail(r) }

// ParseLabSample reads what Detail wrote.
func ParseLabSample(detail string) (s LabSample, err error) {
	if err := decodeDetail(detail, &s, "sample"); err != nil {
		return s, err
	}
	return s, s.Check()
}

// Check refuses a sample without what it needs.
func (s LabSample) Check() error {
	if err := cmp.Or(cave.CheckName("sample", s.Number), cave.CheckName("test", s.Test)); err != nil || s.Lab == "" {
		return err
	}
	return cave.CheckName("laboratory", s.Lab)
}

// ParseLabResult reads what Detail wrote.
func ParseLabResult(detail string) (r LabResult, err error) {
	if err := decodeDetail(detail, &r, "result"); err != nil {
		return r, err
	}
	if r.Sample == uuid.Nil {
		return r, reason.Err(reason.Missing{What: "sample"})
	}
	if r.Report != "" {
		if err := cave.CheckName("report", r.Report); err != nil {
			return r, err
		}
	}
	_, err = ParseFinding(r.Found)
	return r, err
}

// LotTest is one test of a sample of a make, with its result.
type LotTest struct {
	LabSample
	Entry  Entry
	Result *LabResult // nil: awaited
	Came   Entry      // of the result
}

// Open is true while the test keeps the lot: its result is awaited, or outside a limit.
func (t LotTest) Open() bool { return t.Result == nil || !t.Result.Inside() }

// LotTests are the tests of a make's entries, without cancelled ones, in time order. A
// test that nobody awaits any more has the last result that was entered.
func LotTests(es []Entry) (out []LotTest) {
	live := slices.Clone(Live(es))
	Sort(live)
	for _, e := range live {
		if e.Kind != Sampled {
			continue
		}
		if s, err := ParseLabSample(e.Detail); err == nil {
			out = append(out, LotTest{LabSample: s, Entry: e})
		}
	}
	for _, e := range live {
		if e.Kind != Resulted {
			continue
		}
		r, err := ParseLabResult(e.Detail)
		i := slices.IndexFunc(out, func(t LotTest) bool { return t.Entry.ID == r.Sample })
		if err == nil && i >= 0 {
			out[i].Result, out[i].Came = &r, e
		}
	}
	return out
}

// Hold is what an open test does to every wheel of its lot. A result is a hold of its
// own: who lifted the wait hasn't seen it.
func (t LotTest) Hold(loc *time.Location) Hold {
	h := Hold{ID: t.Entry.ID, On: day.At(t.Entry.At, loc), By: t.Entry.By, Kind: TestHold, Sample: t.Number}
	words := []string{t.Test, t.Number, t.Lab}
	if t.Result != nil {
		h.ID, h.On, h.By, h.Found = t.Came.ID, day.At(t.Came.At, loc), t.Came.By, t.Result.Found
		words[2] = t.Result.Found
	}
	h.Why = strings.Join(slices.DeleteFunc(words, func(w string) bool { return w == "" }), ", ")
	return h
}

// Lab is what laboratories were given of a make.
type Lab struct{ Tests []LotTest }

// LabOf is the tests as a make has them; nil for none.
func LabOf(tests []LotTest) *Lab {
	if len(tests) == 0 {
		return nil
	}
	return &Lab{tests}
}

// Tests are a make's laboratory tests, and those of the lots whose curd it has.
func (m Make) Tests() []LotTest {
	if m.Lab == nil {
		return nil
	}
	return m.Lab.Tests
}

// heldForTests adds the holds of a make's open tests that nobody released the wheel
// from.
func (l *Life) heldForTests(loc *time.Location) {
	released := map[uuid.UUID]bool{}
	for _, e := range l.Entries {
		if r, ok := e.Release(); ok {
			for _, id := range r.Holds {
				released[id] = true
			}
		}
	}
	for _, t := range l.Make.Tests() {
		if h := t.Hold(loc); t.Open() && !released[h.ID] {
			l.Holds = append(l.Holds, h)
		}
	}
}
