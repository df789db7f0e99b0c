package wheel

import (
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Says is a person's own words.
type Says struct {
	Words string `json:"words"`
}

// SentTo is a wheel that went to somebody.
type SentTo struct {
	Customer string `json:"customer"`
}

// ByMistake is a wheel that never was: it was entered by mistake.
type ByMistake struct{}

// FaultSeen is a fault seen on other wheels of the lot, which asks for a check
// of this one.
type FaultSeen struct {
	Faults string `json:"faults"` // by name, with commas between
	Wheels string `json:"wheels"` // their tags, with commas between
}

// CoatByCurve is a coat that was not weighed: its weight is what the curve
// leaves for it.
type CoatByCurve struct {
	Coat quantity.Grams `json:"coat_g"`
}

// BeforeByCurve is a coat, core or cut with no weight taken before it: the
// curve gives it.
type BeforeByCurve struct {
	Event  Kind           `json:"event"`
	Weight quantity.Grams `json:"weight_g"`
}

// CutThenCoated is a cut that was not weighed before the coat: what the curve
// does not explain is taken as cheese.
type CutThenCoated struct{}

// CutByCurve is a cut or core whose mass was not weighed: the loss goes on from
// the curve.
type CutByCurve struct{}

// BeforeOff is a weight before a coat, core or cut far from the last weight.
type BeforeOff struct {
	Before quantity.Grams `json:"before_g"`
	Last   quantity.Grams `json:"last_g"`
}

// CoatHeavy is a coat too heavy for its wheel.
type CoatHeavy struct {
	Coat  quantity.Grams `json:"coat_g"`
	Wheel quantity.Grams `json:"wheel_g"`
}

// CoreHeavy is a core too heavy for its wheel.
type CoreHeavy struct {
	Core  quantity.Grams `json:"core_g"`
	Wheel quantity.Grams `json:"wheel_g"`
}

// AfterLess is a wheel much lighter after a coat or core than before.
type AfterLess struct {
	Event  Kind           `json:"event"`
	After  quantity.Grams `json:"after_g"`
	Before quantity.Grams `json:"before_g"`
}

// MoreThanThere is a cut that leaves or takes more than there was.
type MoreThanThere struct {
	Before quantity.Grams `json:"before_g"`
}

// SentOverLeft is more sent than was left after the pieces sent before.
type SentOverLeft struct {
	Sent quantity.Grams `json:"sent_g"`
	Left quantity.Grams `json:"left_g"`
}

// SentOverLast is more sent than the wheel weighed at last.
type SentOverLast struct {
	Sent  quantity.Grams `json:"sent_g"`
	Last  quantity.Grams `json:"last_g"`
	Piece bool           `json:"piece"` // a piece, and not the whole wheel
}

// Code is how programs know each of these.
func (HandCheck) Code() string     { return "hand-check" }
func (Says) Code() string          { return "words" }
func (SentTo) Code() string        { return "sent-to" }
func (ByMistake) Code() string     { return "by-mistake" }
func (FaultSeen) Code() string     { return "fault-seen" }
func (CoatByCurve) Code() string   { return "coat-by-curve" }
func (BeforeByCurve) Code() string { return "weight-by-curve" }
func (CutThenCoated) Code() string { return "cut-then-coated" }
func (CutByCurve) Code() string    { return "cut-by-curve" }
func (BeforeOff) Code() string     { return "weight-before-off" }
func (CoatHeavy) Code() string     { return "coat-heavy" }
func (CoreHeavy) Code() string     { return "core-heavy" }
func (AfterLess) Code() string     { return "weight-after-less" }
func (MoreThanThere) Code() string { return "more-than-there" }
func (SentOverLeft) Code() string  { return "sent-over-left" }
func (SentOverLast) Code() string  { return "sent-over-last" }

func init() {
	reason.Register(map[int]reason.Reason{
		200: HandCheck{}, 201: Says{}, 202: SentTo{}, 203: ByMistake{}, 204: FaultSeen{}, 205: CoatByCurve{},
		206: BeforeByCurve{},
		207: CutThenCoated{}, 208: CutByCurve{}, 209: BeforeOff{}, 210: CoatHeavy{}, 211: CoreHeavy{}, 212: AfterLess{},
		213: MoreThanThere{}, 214: SentOverLeft{}, 215: SentOverLast{},
	})
}
