package app

import (
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// LooksWrong refuses a weight of a wheel that is unlikely.
type LooksWrong struct {
	Wheel  string         `json:"wheel"`
	Weight quantity.Grams `json:"weight_g"`
	Why    reason.Reason  `json:"why"`
}

// WeightsClash refuses weights round a coat, core or cut of a wheel that can't be right.
type WeightsClash struct {
	Wheel string        `json:"wheel"`
	Why   reason.Reason `json:"why"`
}

// InKilograms is a remedy: the figure fits if it was meant in kilograms.
type InKilograms struct {
	Kilograms float64 `json:"kg"`
}

// FitsSister is a remedy: the weight would fit another wheel.
type FitsSister struct {
	Wheel string `json:"wheel"`
}

// StrikeEarlier is a remedy for a weight that an earlier one of the same day speaks against: that may be the slip.
type StrikeEarlier struct {
	Entry  string         `json:"entry"` // the wheel's tag and the entry's mark
	Weight quantity.Grams `json:"weight_g"`
}

// TakeOverFirst is a remedy for a first weight taken long after the make: if it isn't the
// green weight, the wheel is to be taken over before it is weighed.
type TakeOverFirst struct {
	Wheel string `json:"wheel"`
	Days  int    `json:"days"`
	New   bool   `json:"new"` // it isn't in the book yet: the same table brings it
}

// Remedies for what looks wrong.
const (
	ScaleAgain reason.Flat = "look-at-the-scale"
	BareUnits  reason.Flat = "bare-units"
)

// The codes.

func (LooksWrong) Code() string    { return "weight-looks-wrong" }
func (WeightsClash) Code() string  { return "weights-clash" }
func (InKilograms) Code() string   { return "in-kilograms" }
func (FitsSister) Code() string    { return "fits-sister" }
func (StrikeEarlier) Code() string { return "strike-the-earlier-weight" }
func (TakeOverFirst) Code() string { return "take-over-first" }

// Doubtful refuses a doubtful weight of a wheel; before is its life without it.
func Doubtful(before wheel.Life, e wheel.Entry, d verdict.Doubt) *Refusal {
	why := LooksWrong{before.Tag, e.Weight, d.Why}
	if last := before.WeightNow(); last > 0 && e.Weight*1000 > last*0.7 && e.Weight*1000 < last*1.3 {
		return Refuse(why, InKilograms{float64(e.Weight)})
	}
	if late, ok := d.Why.(verdict.LateFirst); ok {
		return Unsure(why, TakeOverFirst{Wheel: before.Tag, Days: late.Days})
	}
	if was, ok := justBefore(before, e); ok {
		return Unsure(why, StrikeEarlier{before.Tag + ":" + was.Mark(), was.Weight})
	}
	if d.Sister != "" {
		return Unsure(why, FitsSister{d.Sister})
	}
	return Unsure(why, ScaleAgain)
}

// justBefore is the weighing of a wheel in the twelve hours before an entry, our choice, where it has one.
func justBefore(l wheel.Life, e wheel.Entry) (was wheel.Entry, ok bool) {
	for _, x := range l.Entries {
		if age := e.At.Sub(x.At); x.Kind == wheel.Weighed && x.ID != e.ID && age >= 0 && age < 12*time.Hour {
			was, ok = x, true
		}
	}
	return was, ok
}

// Reweighed refuses weights round a coat, core or cut that can't be right by the
// wheel's last weight, unless the caller is sure.
func (s *Session) Reweighed(st derive.WheelState, e wheel.Entry, sure bool) error {
	if sure || e.Before == 0 && e.Weight == 0 && e.Removed == 0 {
		return nil
	}
	l, err := s.Tx.Life(st.Wheel)
	if err != nil {
		return err
	}
	if why := l.OddReweighing(e); why != nil {
		return Unsure(WeightsClash{st.Tag, why}, ScaleAgain).Of(st.Tag)
	}
	return nil
}
