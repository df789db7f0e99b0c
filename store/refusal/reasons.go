package refusal

import (
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
)

// Why the book refuses a fact.
const (
	ForAMake         = reason.Flat("for-a-make")          // an entry of a make's log, given to a wheel
	NoPhoto          = reason.Flat("photo-not-held")      // the note names one that the book lacks
	NotAPhoto        = reason.Flat("not-a-photo")         // a JPEG picture is wanted
	NoSuchRound      = reason.Flat("no-such-round")       // the subject has no such entry of that job
	NoSuchEntry      = reason.Flat("no-entry-to-strike")  // the subject has none of that identity
	StruckTooEarly   = reason.Flat("strike-before-entry") // a strike is withdrawn after it was written
	NotFinite        = reason.Flat("figure-not-finite")   // a figure of a make
	Before1970       = reason.Flat("before-1970")
	DifferentContent = reason.Flat("different-content") // under an identity that is in the book
)

type (
	// Taken: another has that tag, lot or name.
	Taken struct {
		What reason.Thing `json:"what"`
		Name string       `json:"name"`
	}
	// Different: an entry of that identity is in the book and says something else.
	Different struct {
		Was string `json:"was"` // what was done, or its kind
	}
	// FutureTime: only what has happened can be recorded. At is in the book's zone.
	FutureTime struct {
		At time.Time `json:"at"`
	}
	// FutureDate is FutureTime for a date.
	FutureDate struct {
		On day.Date `json:"on"`
	}
	// BeforeMake: an entry from before the day of its make.
	BeforeMake struct {
		On   day.Date `json:"on"`
		Made day.Date `json:"made"`
	}
	// BeforeArrival: an entry from before the day on which its wheel came from a supplier.
	BeforeArrival struct {
		On   day.Date `json:"on"`
		Came day.Date `json:"came"`
	}
	// BeganElse: a make that began on another day than its own.
	BeganElse BeforeMake
	// MadeAfter: a make would be of a later date than something recorded of it or its
	// wheels.
	MadeAfter struct {
		Of   string   `json:"of"` // tag, or "lot" and the lot
		What string   `json:"what"`
		Mark string   `json:"mark"`
		On   day.Date `json:"on"`
		Made day.Date `json:"made"`
	}
	// LotRemoved: the make was entered by mistake, and removed.
	LotRemoved struct {
		Lot string `json:"lot"`
	}
	// Gone: the wheel left before that, or leaves twice.
	Gone struct {
		How wheel.Kind `json:"how"`
		On  day.Date   `json:"on"`
	}
	// ForAWheel: an entry of a wheel, given to a make.
	ForAWheel struct {
		What string `json:"what"`
	}
	// StruckAlready: the entry was withdrawn before.
	StruckAlready ForAWheel
	// Respell: a place that the book writes otherwise.
	Respell struct {
		Word string `json:"word"`
		As   string `json:"as"`
	}
	// OtherSites: something that only its own site may change.
	OtherSites struct {
		What reason.Thing `json:"what"`
		Name string       `json:"name"`
		Site string       `json:"site"`
	}
	// Several: a name that things of more than one site have; Names tells them apart.
	Several struct {
		What  reason.Thing `json:"what"`
		Name  string       `json:"name"`
		Names []string     `json:"names"`
	}
	// PhotoTooLarge: a photo of more than the book keeps, in bytes.
	PhotoTooLarge struct {
		Bytes int `json:"bytes"`
		Most  int `json:"most"`
	}
	// SameID: two rows of a table give different weighings one identity.
	SameID struct {
		Line int `json:"line"` // of the other
	}
)

func (Taken) Code() string         { return "taken" }
func (Different) Code() string     { return "entry-differs" }
func (FutureTime) Code() string    { return "time-in-future" }
func (FutureDate) Code() string    { return "date-in-future" }
func (BeforeMake) Code() string    { return "before-make" }
func (BeforeArrival) Code() string { return "before-arrival" }
func (BeganElse) Code() string     { return "began-on-another-day" }
func (Gone) Code() string          { return "gone" }
func (MadeAfter) Code() string     { return "made-after" }
func (LotRemoved) Code() string    { return "lot-removed" }
func (ForAWheel) Code() string     { return "for-a-wheel" }
func (StruckAlready) Code() string { return "struck-already" }
func (Respell) Code() string       { return "place-spelled-otherwise" }
func (OtherSites) Code() string    { return "other-sites" }
func (Several) Code() string       { return "several-of-that-name" }
func (PhotoTooLarge) Code() string { return "photo-too-large" }
func (SameID) Code() string        { return "id-given-twice" }
