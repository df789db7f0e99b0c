package wheel

import (
	"fmt"
	"hash/crc32"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
)

// Kind is what sort of thing an entry says happened. The numbers are written
// to the book: they are never changed or used again.
type Kind uint8

// The kinds of entry.
const (
	Weighed  Kind = 1
	Did      Kind = 2 // Job was done: turned, brushed, washed
	Skipped  Kind = 3 // Job was passed over
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
	Struck   Kind = 15 // Target is withdrawn
	Planned  Kind = 16 // goes over to the rind plan Plan
	Tagged   Kind = 17 // is called Tag from now on
	Asked    Kind = 18 // Job is wanted until it is done, for the reason in Detail or Note
	SentPart Kind = 19 // a piece of Weight was sent To somebody; the rest is here
	Voided   Kind = 21 // was entered by mistake and never was
	Logged   Kind = 20 // of a make: Detail is a MakeLog
)

var kindNames = map[Kind]string{
	Weighed: "weighed", Did: "did", Skipped: "skipped", CoatedOn: "coated", Cored: "cored", Cut: "cut", Moved: "moved",
	Checked: "checked", Held: "held", Released: "released", Sent: "sent", Lost: "lost", Noted: "noted", Struck: "struck",
	Planned: "planned", Tagged: "tagged", Tasted: "tasted", Asked: "asked", SentPart: "sent part",
	Logged: "logged", Voided: "voided",
}

// Known says whether k is a kind this program writes.
func (k Kind) Known() bool { return kindNames[k] != "" }

// Reweighs says whether the kind changes a wheel's weight by other means than
// drying: a coat, a core, a cut, a piece sent.
func (k Kind) Reweighs() bool { return k == CoatedOn || k == Cored || k == Cut || k == SentPart }

// String is the kind's word.
func (k Kind) String() string {
	if s, ok := kindNames[k]; ok {
		return s
	}
	return fmt.Sprintf("kind %d", uint8(k))
}

// Entry is one thing that happened to one wheel or make (its Subject), kept
// for ever. ID is the writer's own: the same entry sent twice is one entry.
// Only the fields of its Kind are used.
type Entry struct {
	ID      uuid.UUID
	Subject uuid.UUID
	Kind    Kind
	At      time.Time // when it happened, UTC, to the millisecond
	Written time.Time // when it was written down, UTC, to the millisecond
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
	Target  uuid.UUID      // Struck
	Sure    bool           // the writer confirmed an unlikely figure
	Note    string

	// Detail is of a Tasted entry a Tasting, of a Logged one a MakeLog, of a Noted
	// one a Photo or nothing, of an Asked one the reason or nothing, and of one
	// that sends a Sending or nothing; as their own Detail writes it.
	Detail string
}

// Mark is a short name for the entry, six hexadecimal digits that follow from
// its ID (CRC-32, IEEE): enough to tell it from the others of one wheel.
func (e Entry) Mark() string { return MarkOf(e.ID) }

// MarkOf is the mark of the entry with that ID.
func MarkOf(id uuid.UUID) string { return fmt.Sprintf("%06x", crc32.ChecksumIEEE(id[:])>>8) }

// Same says whether two entries record the same fact: everything but who
// wrote it, when, and under which ID.
func (e Entry) Same(o Entry) bool {
	e.ID, e.Written, e.By, e.Sure = o.ID, o.Written, o.By, o.Sure
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

// weighable says whether g is a weight the book takes, or 0 for none; NaN is
// neither.
func weighable(g quantity.Grams) bool { return g >= 0 && g <= quantity.MaxWeight }

// Check says what is wrong with the entry by itself, in one sentence.
func (e Entry) Check() error {
	switch {
	case !e.Kind.Known():
		return fmt.Errorf("an entry of unknown kind %d", uint8(e.Kind))
	case e.ID == uuid.Nil || e.Subject == uuid.Nil:
		return fmt.Errorf("an entry without an identity")
	case e.At.Unix() < 0 || e.Written.Unix() < 0:
		return fmt.Errorf("an entry from before 1970")
	case (e.Kind == Did || e.Kind == Skipped || e.Kind == Asked) && !slices.Contains(Jobs, e.Job):
		return fmt.Errorf("no job %q", e.Job)
	case e.Kind == Weighed && !(e.Weight > 0 && e.Weight <= quantity.MaxWeight):
		return fmt.Errorf("a weight of %.4g g is out of range", float64(e.Weight))
	case !weighable(e.Weight) || !weighable(e.Before) || !weighable(e.Removed):
		return fmt.Errorf("a weight is out of range")
	case e.Kind == Struck && e.Target == uuid.Nil:
		return fmt.Errorf("a strike without the entry it withdraws")
	case e.Kind == Checked && !e.Found.Said():
		return fmt.Errorf("a hand check that says nothing")
	case e.Kind == SentPart && e.Weight == 0:
		return fmt.Errorf("a piece sent without its weight")
	case e.Detail != "" && !e.Kind.detailed():
		return fmt.Errorf("a detail that its kind does not have")
	case e.Detail != "" && (e.Kind == Asked || e.Kind.sends()):
		if err := e.checkReasons(); err != nil {
			return err
		}
	case e.Kind == Tasted:
		if _, err := ParseTasting(e.Detail); err != nil {
			return err
		}
	case e.Kind == Logged:
		if _, err := ParseMakeLog(e.Detail); err != nil {
			return err
		}
	case e.Kind == Noted && e.Detail != "":
		if _, err := ParsePhoto(e.Detail); err != nil {
			return err
		}
	}
	if e.By != "" {
		if err := cave.CheckName("person", e.By); err != nil {
			return err
		}
	}
	if e.To != "" {
		if err := cave.CheckName("customer", e.To); err != nil {
			return err
		}
	}
	return CheckNote(e.Note)
}

// Sort puts entries in the order they happened; those of one instant in the
// order they were written, then by ID.
func Sort(es []Entry) {
	sorted := true // as a book gives them, and an entry is long to carry about
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

// Live drops the entries that were struck and the strikes themselves; the
// order is kept. A strike that was itself struck does not count.
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
	return live
}
