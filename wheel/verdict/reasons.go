package verdict

import (
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
)

// What a gate waits for, kept in the index of what is due. A figure is a reason
// by itself, so that wheels that differ in it alone share a line.
type (
	// NeverWeighed is a wheel whose coat waits for a first weight.
	NeverWeighed struct{}
	// NotDryBefore is a wheel that was not dry enough when last weighed.
	NotDryBefore struct{}
	// DryByCurve is a wheel dry enough about now, by its curve.
	DryByCurve struct{}
	// FiguresMet is a wheel that lacks only a hand check.
	FiguresMet struct{}
	// DryAndSound is a wheel ready to coat.
	DryAndSound struct{}
	// PastSafe is a wheel drier than is safe for its rind: it may crack.
	PastSafe struct{}
	// CoatAtOnce is a wheel too dry already, to be coated at once.
	CoatAtOnce struct{}
	// Lost is the wheel's loss at its last weighing.
	Lost struct {
		Share quantity.Fraction `json:"loss_pct"`
	}
	// CheckFound is what the last hand check found that keeps the coat off.
	CheckFound struct {
		Found wheel.HandCheck `json:"found"`
	}
	// CheckSilent is a last hand check that does not say whether the rind is dry
	// to the touch.
	CheckSilent struct{}
	// CheckStale is a hand check too old to coat by.
	CheckStale struct{}
	// InDoubt is a last weight that is unlikely and that nothing confirms.
	InDoubt struct{}
	// WeightStale is a last weight too old to coat by.
	WeightStale struct{}
	// BlownOn is gas found by a hand check.
	BlownOn struct {
		On day.Date `json:"on"`
	}
)

// What a wheel has, and what a rule of the gate needs.
type (
	// Days are days of drying.
	Days struct {
		Days int `json:"days"`
	}
	// LeastDays are the days of drying a wheel needs.
	LeastDays struct {
		Days int `json:"days"`
	}
	// Share is a loss or a share, measured.
	Share struct {
		Share quantity.Fraction `json:"share_pct"`
	}
	// About is a share by calculation: the moisture.
	About struct {
		Share quantity.Fraction `json:"share_pct"`
	}
	// AtLeast is the least that is enough.
	AtLeast struct {
		Share quantity.Fraction `json:"share_pct"`
	}
	// AtMost is the most that is allowed.
	AtMost struct {
		Share quantity.Fraction `json:"share_pct"`
	}
	// AtMostOfWet is the most that the rate may be of a wet rind's.
	AtMostOfWet struct {
		Share quantity.Fraction `json:"share_pct"`
	}
	// OfWetRind is the rate as a share of what a wet rind would lose.
	OfWetRind struct {
		Share quantity.Fraction `json:"share_pct"`
	}
	// ByWeight is the age of the weight that a figure or an answer rests on.
	ByWeight struct {
		Days int `json:"days_old"`
	}
	// NoDrying is air too wet to take any water.
	NoDrying struct{}
	// NotWeighed is a wheel without a weight.
	NotWeighed struct{}
	// NoCheck is a wheel that nobody felt yet.
	NoCheck struct{}
	// Felt is the last hand check.
	Felt struct {
		Found wheel.HandCheck `json:"found"`
		On    day.Date        `json:"on"`
	}
	// Stale is a hand check too old to count.
	Stale struct{}
	// SoundCheck is the hand check that a coat needs.
	SoundCheck struct {
		Days int `json:"at_most_days_old"`
	}
)

// What to do next: the advice of a verdict.
type (
	// CoatedOn is a wheel that has its coat.
	CoatedOn struct {
		On day.Date `json:"on"`
	}
	// MendCoat is a coat to be looked over and mended.
	MendCoat struct{}
	// FindGas is a blown wheel that is coated already.
	FindGas struct {
		On day.Date `json:"on"`
	}
	// KeepApart is a blown wheel that must not be coated.
	KeepApart struct {
		On day.Date `json:"on"`
	}
	// WeighFirst is a wheel of whose loss nothing is known.
	WeighFirst struct{}
	// WeighedOnce is a wheel whose figures are met by the model alone.
	WeighedOnce struct{}
	// TooOld is a last weight too old for an answer to rest on.
	TooOld struct {
		Days int `json:"days_old"`
		Most int `json:"at_most_days_old"`
	}
	// Jumped is a weight that drying does not explain, and that later ones confirm.
	Jumped struct {
		Was quantity.Grams `json:"was_g"`
		Is  quantity.Grams `json:"is_g"`
		At  time.Time      `json:"at"`
	}
	// CracksLikely is a wheel over the loss where cracks are common.
	CracksLikely struct {
		Over quantity.Fraction `json:"over_pct"`
	}
	// CoatBy is a wheel to coat while its hand check is fresh.
	CoatBy struct {
		By day.Date `json:"by"`
	}
	// FeelAgain is a wheel whose hand check does not say whether it is dry.
	FeelAgain struct{}
	// SeeTo is a wheel whose hand check found something to put right.
	SeeTo struct {
		Found wheel.HandCheck `json:"found"`
	}
	// Feel is a wheel whose figures are met: a hand decides.
	Feel struct{}
	// RoomTooWet is air that takes hardly any water from the wheel.
	RoomTooWet struct {
		RH quantity.Fraction `json:"rh_pct"`
		By day.Date          `json:"by"` // when it should be ready for its coat; None: nobody said
	}
	// RoomSlow is air in which the wheel hardly gets there.
	RoomSlow struct{}
	// WaitUntil is a wheel dry early: its rind needs its days.
	WaitUntil struct {
		Days  int      `json:"days"`
		Until day.Date `json:"until"`
	}
	// WeighTomorrow is a wheel all but there.
	WeighTomorrow struct{}
	// WeighNow is a wheel that may be there by its curve.
	WeighNow struct{}
	// Overdue is a wheel that should be dry by now.
	Overdue struct {
		Since day.Date `json:"since"`
	}
	// WeighAbout is when to weigh again.
	WeighAbout struct {
		On day.Date `json:"on"`
	}
	// NoCoat is a wheel whose plan has no coat that waits for it to be dry.
	NoCoat struct {
		Plan   string `json:"plan"`
		Answer Answer `json:"answer"` // by the usual figures
	}
)

// What would become of a rind.
type (
	// CracksFrom is a bare wheel that passes the loss where cracks are common.
	CracksFrom struct {
		Over quantity.Fraction `json:"over_pct"`
		On   day.Date          `json:"on"`
	}
	// LostByCoat is the loss of a wheel as it gets a tight coat, and the loss it needs.
	LostByCoat struct {
		Loss  quantity.Fraction `json:"loss_pct"`
		Needs quantity.Fraction `json:"needs_pct"`
	}
)

// HeldByLaw is a hold that a food law puts on a wheel.
type HeldByLaw struct {
	By      string           `json:"by"` // the countries followed, with commas between; "": the variety's file
	Source  string           `json:"source"`
	Milk    wheel.Treatment  `json:"milk"` // the wheel's, where the rule asks; ""
	Counted int              `json:"counted_days"`
	Days    int              `json:"days"`
	Warm    bool             `json:"warm"` // only time at AtOver or above counts
	AtOver  quantity.Celsius `json:"at_over_c"`
}

// HeldUnread is a hold of which some days counted so far have no reading of the
// room: they are shown, and don't end it.
type HeldUnread struct {
	Law    HeldByLaw `json:"law"`
	Unread int       `json:"days_without_a_reading"`
}

// MilkUnknown is a hold by a law that asks how the milk was treated, which nobody
// has said.
type MilkUnknown struct {
	By     string `json:"by"`
	Source string `json:"source"`
}

// RuleMissing is a hold in countries whose law holds cheese from raw milk for days, where
// no rule on file covers the wheel's variety.
type RuleMissing struct {
	By      string          `json:"by"` // those countries, with commas between
	Variety string          `json:"variety"`
	Milk    wheel.Treatment `json:"milk"` // "": not known
	Lot     string          `json:"lot"`
}

// Why a weight or a make looks wrong.
type (
	// BeforeGreen is a weight from before the green weight.
	BeforeGreen struct{}
	// FasterThanWet is more lost since an earlier weight than even a wet rind could lose.
	FasterThanWet struct {
		Lost  quantity.Grams `json:"lost_g"`
		Since time.Time      `json:"since"`
	}
	// Heavier is a weight over the one before it.
	Heavier struct {
		By  quantity.Grams `json:"by_g"`
		Was quantity.Grams `json:"was_g"`
		At  time.Time      `json:"at"`
	}
	// OffCurve is a loss far outside what the curve expects, 90 %.
	OffCurve struct {
		Loss quantity.Fraction `json:"loss_pct"`
		Low  quantity.Fraction `json:"low_pct"`
		High quantity.Fraction `json:"high_pct"`
	}
	// UnlikeSisters is a first weight far from the lot's.
	UnlikeSisters struct {
		Sisters quantity.Grams `json:"sisters_g"`
	}
	// UnlikeVariety is a first weight far from what the variety usually weighs.
	UnlikeVariety struct {
		Variety string         `json:"variety"`
		Usual   quantity.Grams `json:"usual_g"`
	}
	// OddWheel is a green weight of a make far from the usual.
	OddWheel struct {
		Variety string         `json:"variety"`
		Weight  quantity.Grams `json:"weight_g"`
		Usual   quantity.Grams `json:"usual_g"`
	}
	// OddAmong is the weight of one wheel of several that is far from the others'.
	OddAmong struct {
		Wheel  int            `json:"wheel"` // from 1
		Weight quantity.Grams `json:"weight_g"`
		Others quantity.Grams `json:"others_g"`       // their middle
		Meant  quantity.Grams `json:"may_be_meant_g"` // with a digit more or less; 0: that wouldn't fit either
	}
	// OddDensity is a wheel whose measures and weight do not go together.
	OddDensity struct {
		Shape   shape.Shape    `json:"shape"`
		Weight  quantity.Grams `json:"weight_g"`
		Density float64        `json:"kg_per_m3"`
	}
	// OddCurd is a weight of curd too small to be one.
	OddCurd struct {
		Weight quantity.Grams `json:"weight_g"`
		Aside  bool           `json:"set_aside"`
	}
)

// Code is how programs know each of these.
func (NeverWeighed) Code() string  { return "never-weighed" }
func (NotDryBefore) Code() string  { return "not-dry-before" }
func (DryByCurve) Code() string    { return "dry-by-curve" }
func (FiguresMet) Code() string    { return "figures-met" }
func (DryAndSound) Code() string   { return "dry-and-sound" }
func (PastSafe) Code() string      { return "past-safe" }
func (CoatAtOnce) Code() string    { return "coat-at-once" }
func (Lost) Code() string          { return "lost" }
func (CheckFound) Code() string    { return "check-found" }
func (CheckSilent) Code() string   { return "check-silent" }
func (CheckStale) Code() string    { return "check-stale" }
func (BlownOn) Code() string       { return "blown" }
func (InDoubt) Code() string       { return "weight-in-doubt" }
func (WeightStale) Code() string   { return "weight-stale" }
func (ByWeight) Code() string      { return "by-weight" }
func (WeighedOnce) Code() string   { return "weighed-once" }
func (TooOld) Code() string        { return "weight-too-old" }
func (Jumped) Code() string        { return "weight-jumped" }
func (Days) Code() string          { return "days" }
func (LeastDays) Code() string     { return "at-least-days" }
func (Share) Code() string         { return "share" }
func (About) Code() string         { return "about" }
func (AtLeast) Code() string       { return "at-least" }
func (AtMost) Code() string        { return "at-most" }
func (OfWetRind) Code() string     { return "of-wet-rind" }
func (AtMostOfWet) Code() string   { return "at-most-of-wet" }
func (NoDrying) Code() string      { return "no-drying" }
func (NotWeighed) Code() string    { return "not-weighed" }
func (NoCheck) Code() string       { return "no-check" }
func (Felt) Code() string          { return "felt" }
func (Stale) Code() string         { return "stale" }
func (SoundCheck) Code() string    { return "sound-check" }
func (CoatedOn) Code() string      { return "coated" }
func (MendCoat) Code() string      { return "mend-coat" }
func (FindGas) Code() string       { return "find-gas" }
func (KeepApart) Code() string     { return "keep-apart" }
func (WeighFirst) Code() string    { return "weigh-first" }
func (CracksLikely) Code() string  { return "cracks-likely" }
func (CoatBy) Code() string        { return "coat-by" }
func (FeelAgain) Code() string     { return "feel-again" }
func (SeeTo) Code() string         { return "see-to" }
func (Feel) Code() string          { return "feel" }
func (RoomTooWet) Code() string    { return "room-too-wet" }
func (RoomSlow) Code() string      { return "room-slow" }
func (WaitUntil) Code() string     { return "wait-until" }
func (WeighTomorrow) Code() string { return "weigh-tomorrow" }
func (WeighNow) Code() string      { return "weigh-now" }
func (Overdue) Code() string       { return "overdue" }
func (WeighAbout) Code() string    { return "weigh-about" }
func (NoCoat) Code() string        { return "no-coat" }
func (CracksFrom) Code() string    { return "cracks-from" }
func (LostByCoat) Code() string    { return "lost-by-coat" }
func (HeldByLaw) Code() string     { return "held-by-law" }
func (HeldUnread) Code() string    { return "held-by-law-unread" }
func (MilkUnknown) Code() string   { return "milk-unknown" }
func (RuleMissing) Code() string   { return "rule-missing" }
func (BeforeGreen) Code() string   { return "before-green" }
func (FasterThanWet) Code() string { return "faster-than-wet-rind" }
func (Heavier) Code() string       { return "heavier" }
func (OffCurve) Code() string      { return "off-curve" }
func (UnlikeSisters) Code() string { return "unlike-sisters" }
func (UnlikeVariety) Code() string { return "unlike-variety" }
func (OddWheel) Code() string      { return "odd-wheel" }
func (OddAmong) Code() string      { return "odd-among-others" }
func (OddDensity) Code() string    { return "odd-density" }
func (OddCurd) Code() string       { return "odd-curd" }

func init() {
	reason.Register(map[int]reason.Reason{
		100: NeverWeighed{}, 101: NotDryBefore{}, 102: DryByCurve{}, 103: FiguresMet{}, 104: DryAndSound{}, 105: PastSafe{},
		106: CoatAtOnce{}, 107: Lost{}, 108: CheckFound{}, 109: CheckSilent{}, 110: CheckStale{}, 111: BlownOn{},
		112: Days{}, 113: LeastDays{}, 114: Share{}, 115: About{}, 116: AtLeast{}, 117: AtMost{}, 118: OfWetRind{},
		119: NoDrying{}, 120: NotWeighed{}, 121: NoCheck{}, 122: Felt{}, 123: Stale{}, 124: SoundCheck{}, 125: CoatedOn{},
		126: MendCoat{}, 127: FindGas{}, 128: KeepApart{}, 129: WeighFirst{}, 130: CracksLikely{}, 131: CoatBy{},
		132: FeelAgain{}, 133: SeeTo{}, 134: Feel{}, 135: RoomTooWet{}, 136: RoomSlow{}, 137: WaitUntil{},
		138: WeighTomorrow{}, 139: WeighNow{}, 140: Overdue{}, 141: WeighAbout{}, 142: NoCoat{}, 143: HeldByLaw{},
		144: BeforeGreen{}, 145: Heavier{}, 146: OffCurve{}, 147: UnlikeSisters{}, 148: UnlikeVariety{}, 149: OddWheel{},
		150: OddDensity{}, 151: OddCurd{}, 152: AtMostOfWet{}, 153: InDoubt{}, 154: WeightStale{}, 155: ByWeight{},
		156: TooOld{}, 157: Jumped{}, 158: FasterThanWet{},
		160: CracksFrom{}, 161: LostByCoat{},
		190: HeldUnread{}, 191: MilkUnknown{}, 530: RuleMissing{}, 830: WeighedOnce{}, 831: OddAmong{},
	})
}
