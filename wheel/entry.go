package wheel

import (
	"cmp"
	"fmt"
	"hash/crc32"
	"maps"
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Kind is what an entry says happened. The numbers are stored in the book: they are
// never changed or used again.
type Kind uint8

// The kinds of entry. Their numbers are our choice.
const (
	Weighed  Kind = 1
	Did      Kind = 2 // Job was done: turned, brushed, washed
	Skipped  Kind = 3 // Job was skipped
	CoatedOn Kind = 4
	Cored    Kind = 5
	Cut      Kind = 6
	Moved    Kind = 7
	Checked  Kind = 8
	Tasted   Kind = 9 // Detail is a Tasting
	Held     Kind = 10
	Released Kind = 11
	Sent     Kind = 12
	Lost     Kind = 13
	Noted    Kind = 14
	Struck   Kind = 15 // Target is cancelled
	Planned  Kind = 16 // follows the rind plan Plan from now on
	Tagged   Kind = 17 // has the tag Tag from now on
	Asked    Kind = 18 // Job is wanted until it is done, for the reason in Detail or Note
	SentPart Kind = 19 // a piece of Weight was sent To somebody; the rest is here
	Logged   Kind = 20 // of a make: Detail is a MakeLog
	Voided   Kind = 21 // was entered by mistake and never existed
	Sampled  Kind = 22 // of a make: Detail is a LabSample for a laboratory, and the lot is held
	Resulted Kind = 23 // of a make: Detail is a LabResult

	Received  Kind = 24 // came from a supplier: Detail is an Arrival
	TakenOver Kind = 25 // is kept from now on, whatever was done before: Detail is an Arrival
	Corrected Kind = 26 // of a make: Detail is a Correction
)

var kindNames = map[Kind]string{
	Weighed: "weighed", Did: "did", Skipped: "skipped", CoatedOn: "coated", Cored: "cored", Cut: "cut", Moved: "moved",
	Checked: "checked", Held: "held", Released: "released", Sent: "sent", Lost: "lost", Noted: "noted", Struck: "struck",
	Planned: "planned", Tagged: "tagged", Tasted: "tasted", Asked: "asked", SentPart: "sent part",
	Logged: "logged", Voided: "voided", Sampled: "sampled", Resulted: "tested", Received: "received",
	TakenOver: "taken over", Corrected: "corrected",
}

// OfMake is true for what happens to a make and not to a wheel.
func (k Kind) OfMake() bool { return k == Logged || k == Corrected || k == Sampled || k == Resulted }

// Known is true for the kinds above.
func (k Kind) Known() bool { return kindNames[k] != "" }

// Kinds are the names of all kinds, in the order of their numbers.
func Kinds() []string {
	var out []string
	for _, k := range slices.Sorted(maps.Keys(kindNames)) {
		out = append(out, kindNames[k])
	}
	return out
}

// Reweighs is true where the kind changes a wheel's weight otherwise than by drying:
// a coat, a core, a cut, a piece sent.
func (k Kind) Reweighs() bool { return k == CoatedOn || k == Cored || k == Cut || k == SentPart }

// String is the kind in a word or two.
func (k Kind) String() string {
	if s, ok := kindNames[k]; ok {
		return s
	}
	return fmt.Sprintf("kind %d", uint8(k))
}

// Entry is one thing that happened to one wheel or make (its Subject). It is never
// changed. The writer chooses its ID, so that a repeat is ignored. Only the fields
// of its Kind are used.
type Entry struct {
	ID      uuid.UUID
	Subject uuid.UUID
	Kind    Kind
	At      time.Time // when it happened, UTC, to the millisecond
	Written time.Time // when it was recorded, UTC, to the millisecond
	Clock   time.Time // what the writer's clock said at At, if it was off; zero: it was right
	Unsure  bool      // the writer's clock was set meanwhile, so At may be wrong
	By      string

	Job     Job            // Did, Skipped
	Weight  quantity.Grams // Weighed; after a coat, core or cut; sent. 0: not weighed
	Before  quantity.Grams // before a coat, core or cut. 0: not weighed
	Removed quantity.Grams // mass a core or cut took away. 0: not weighed
	Coat    string         // CoatedOn
	Place   cave.Place     // Moved
	Found   HandCheck      // Checked
	Plan    string         // Planned
	Tag     string         // Tagged
	To      string         // Sent: to whom
	Target  uuid.UUID      // Struck; Did, Skipped: the entry that recorded the same round first
	Sure    bool           // the writer confirmed a doubtful figure
	Note    string

	// Detail is the text of a Tasting (Tasted), a MakeLog (Logged), a Correction
	// (Corrected), a LabSample (Sampled), a LabResult (Resulted), a Photo (Noted), a
	// reason (Asked), a Sending (Sent, SentPart), a Disposal (Lost), an Arrival (Received, TakenOver), a
	// Holding (Held) or a Release (Released). It may be empty except for the first five.
	Detail string
}

// Mark is a short code for the entry, six hexadecimal digits of the CRC-32 (IEEE)
// of its ID: enough to tell it from the other entries of one wheel.
func (e Entry) Mark() string { return MarkOf(e.ID) }

// MarkOf is the mark of the entry with that ID.
func MarkOf(id uuid.UUID) string { return fmt.Sprintf("%06x", crc32.ChecksumIEEE(id[:])>>8) }

// Same is true where two entries record the same fact, no matter who recorded it,
// when, by which clock and under which ID.
func (e Entry) Same(o Entry) bool {
	e.ID, e.Written, e.Clock, e.Unsure, e.By, e.Sure = o.ID, o.Written, o.Clock, o.Unsure, o.By, o.Sure
	at := e.At.Equal(o.At)
	e.At = o.At
	return at && e == o
}

// Word is what happened in a word or two: "turned", "skipped turn", "coated".
func (e Entry) Word() string {
	switch e.Kind {
	case Did:
		return e.Job.Done()
	case Skipped:
		return "skipped " + string(e.Job)
	case Asked:
		return "asked for a " + string(e.Job)
	}
	return e.Kind.String()
}

// Does is the job that the entry records, whatever its kind; "" where it is none.
func (e Entry) Does() Job {
	switch e.Kind {
	case Did, Skipped:
		return e.Job
	case Weighed:
		return Weigh
	case Cored, Tasted:
		return Taste
	case CoatedOn:
		return Coat
	case Moved:
		return Move
	case Checked:
		return Check
	}
	return ""
}

// Check refuses an entry that is incomplete or out of range by itself. The years are
// our choice, as day.MaxDate.
func (e Entry) Check() error {
	switch {
	case !e.Kind.Known():
		return reason.Err(reason.Unknown{What: "kind", Word: strconv.Itoa(int(e.Kind))})
	case e.ID == uuid.Nil || e.Subject == uuid.Nil:
		return reason.Err(reason.Missing{What: "id"})
	case e.At.Unix() < 0 || e.Written.Unix() < 0 || !e.Clock.IsZero() && e.Clock.Unix() < 0:
		year := min(e.At.Year(), e.Written.Year())
		if !e.Clock.IsZero() {
			year = min(year, e.Clock.Year())
		}
		return reason.Err(reason.Outside[int]{What: "year", Value: year, Low: 1970, High: 9999})
	}
	if err := cmp.Or(e.checkKind(), e.checkDetail()); err != nil {
		return err
	}
	for _, n := range []struct {
		thing reason.Thing
		name  string
	}{{"person", e.By}, {"customer", e.To}} {
		if n.name == "" {
			continue
		}
		if err := cave.CheckName(n.thing, n.name); err != nil {
			return err
		}
	}
	return CheckNote(e.Note)
}

// checkKind checks the fields that depend on the kind.
func (e Entry) checkKind() error {
	for _, w := range []quantity.Grams{e.Weight, e.Before, e.Removed} { // 0 is none
		if err := reason.Within("weight", w, 0, quantity.MaxWeight); err != nil {
			return err
		}
	}
	switch e.Kind {
	case Weighed:
		return refuse(e.Weight == 0, reason.Missing{What: "weight"})
	case Did, Skipped, Asked:
		return refuse(!slices.Contains(Jobs, e.Job), reason.Unknown{What: "job", Word: string(e.Job)})
	case Struck:
		return refuse(e.Target == uuid.Nil, reason.Missing{What: "entry"})
	case Checked:
		return refuse(!e.Found.Said(), EmptyCheck)
	case SentPart:
		return has(e.Weight > 0, "weight")
	case Received:
		return has(e.Arrival().Supplier != "", "supplier")
	}
	return nil
}

// CheckNames refuses a name in an entry that can't be one, of whatever it names.
func (e Entry) CheckNames() error {
	switch e.Kind {
	case Moved:
		return checkPlace(e.Place)
	case Planned:
		return cave.CheckName("plan", e.Plan)
	case CoatedOn:
		return cave.CheckName("coat", e.Coat)
	case Tagged:
		return cave.CheckSited("tag", e.Tag)
	}
	return nil
}

// EmptyCheck is a hand check that says nothing.
const EmptyCheck reason.Flat = "empty-check"

func (e Entry) checkDetail() (err error) {
	switch {
	case e.Kind == Tasted:
		_, err = ParseTasting(e.Detail)
	case e.Kind == Logged:
		_, err = ParseMakeLog(e.Detail)
	case e.Kind == Corrected:
		_, err = ParseCorrection(e.Detail)
	case e.Kind == Sampled:
		_, err = ParseLabSample(e.Detail)
	case e.Kind == Resulted:
		_, err = ParseLabResult(e.Detail)
	case e.Detail == "":
	case e.Kind == Noted:
		_, err = ParsePhoto(e.Detail)
	case e.Kind == Asked:
		err = checkBecause(e.Detail)
	case e.Kind == Held:
		err = checkHolding(e.Detail)
	case e.Kind == Released:
		err = decodeDetail(e.Detail, &Release{}, "release")
	case e.Kind == Lost:
		err = decodeDetail(e.Detail, &Disposal{}, "disposal")
	case e.Kind.sends():
		err = decodeDetail(e.Detail, &Sending{}, "delivery")
	case e.Kind.arrives():
		err = checkArrival(e.Detail)
	default:
		err = reason.Err(reason.Unknown{What: "detail", Word: e.Kind.String()})
	}
	return err
}

// SameRound says whether the entry records a round that its Target recorded first, as
// when two people turn a shelf together and both say so. It says who else did it, and
// isn't a round more.
func (e Entry) SameRound() bool { return (e.Kind == Did || e.Kind == Skipped) && e.Target != uuid.Nil }

// Sort puts entries in the order in which they happened; those of one instant in the
// order in which they were recorded, then by ID.
func Sort(es []Entry) {
	// Entries from a book are sorted, and moving the large structs is slow.
	sorted := true
	for i := 1; i < len(es) && sorted; i++ {
		sorted = es[i].At.After(es[i-1].At)
	}
	if sorted {
		return
	}
	slices.SortStableFunc(es, func(a, b Entry) int {
		if c := a.At.Compare(b.At); c != 0 {
			return c
		}
		if c := a.Written.Compare(b.Written); c != 0 {
			return c
		}
		return slices.Compare(a.ID[:], b.ID[:])
	})
}

// Live drops cancelled entries and the strikes that cancel them, and keeps the
// order. A cancelled strike has no effect. If the first entry of a round is cancelled,
// the next one that recorded the round stands for it.
func Live(es []Entry) []Entry {
	strikes := make([]Entry, 0)
	for _, e := range es {
		if e.Kind == Struck {
			strikes = append(strikes, e)
		}
	}
	if len(strikes) == 0 {
		return es
	}
	slices.SortFunc(strikes, func(a, b Entry) int {
		if c := b.Written.Compare(a.Written); c != 0 {
			return c
		}
		return slices.Compare(b.ID[:], a.ID[:])
	})
	gone := map[uuid.UUID]bool{}
	for _, s := range strikes {
		if !gone[s.ID] {
			gone[s.Target] = true
		}
	}
	live := make([]Entry, 0, len(es))
	for _, e := range es {
		if e.Kind != Struck && !gone[e.ID] {
			live = append(live, e)
		}
	}
	inherit(live, es, gone)
	return live
}

// inherit hands each round whose first entry is gone on to the first that is live.
func inherit(live, all []Entry, gone map[uuid.UUID]bool) {
	first := map[uuid.UUID]uuid.UUID{} // by entry, the one whose round it shares
	for _, e := range all {
		if e.SameRound() {
			first[e.ID] = e.Target
		}
	}
	heirs := map[uuid.UUID]uuid.UUID{}
	for i := range live {
		e := &live[i]
		if !e.SameRound() || !gone[e.Target] {
			continue
		}
		round := e.Target
		for range len(first) { // an heir's own round may have been another's
			if of, ok := first[round]; ok {
				round = of
			}
		}
		heir := heirs[round]
		if heir == uuid.Nil {
			heirs[round] = e.ID
		}
		e.Target = heir
	}
}
