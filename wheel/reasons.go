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

// ByMistake is a wheel that never existed: it was entered by mistake.
type ByMistake struct{}

// FaultSeen is a fault that was seen on other wheels of the lot, a reason to check
// this one.
type FaultSeen struct {
	Faults string `json:"faults"` // by name, separated by commas
	Wheels string `json:"wheels"` // their tags, separated by commas
}

// CoatByCurve is a coat that wasn't weighed: its mass is the weight less what the
// curve expects of the cheese.
type CoatByCurve struct {
	Coat quantity.Grams `json:"coat_g"`
}

// BeforeByCurve is a coat, core or cut without a weight before it, which the curve
// gives instead.
type BeforeByCurve struct {
	Event  Kind           `json:"event"`
	Weight quantity.Grams `json:"weight_g"`
}

// CutThenCoated is a coat after a cut that wasn't weighed: the coat's mass counts as
// cheese.
type CutThenCoated struct{}

// CutByCurve is a cut or core that wasn't weighed: the loss continues from the curve.
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

// SentOverLast is more sent than the wheel's last weight.
type SentOverLast struct {
	Sent  quantity.Grams `json:"sent_g"`
	Last  quantity.Grams `json:"last_g"`
	Piece bool           `json:"piece"` // a piece, not the whole wheel
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
