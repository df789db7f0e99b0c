package words

import (
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// FillEntries puts what entries hold into words.
func (p Printer) FillEntries(es []app.EntryDoc) {
	for i, e := range es {
		es[i].Detail = p.EntryDetail(e.Of)
	}
}

// EntryDetail is what an entry holds beyond its kind and note.
func (p Printer) EntryDetail(e wheel.Entry) string {
	s := p.detail(e)
	switch {
	case e.Unsure && e.Clock.IsZero():
		s += " (time uncertain: the phone's clock was changed)"
	case e.Unsure:
		s += " (time uncertain: the phone's clock was changed; it said " + p.Instant(e.Clock) + ")"
	case !e.Clock.IsZero():
		s += " (phone's clock: " + p.Instant(e.Clock) + ")"
	}
	s = strings.TrimSpace(s)
	return s
}

func (p Printer) detail(e wheel.Entry) string {
	var w []string
	weighed := e.Weight > 0
	switch e.Kind {
	case wheel.Weighed:
		w = append(w, p.Weight(e.Weight))
	case wheel.CoatedOn, wheel.Cored, wheel.Cut:
		if e.Coat != "" {
			w = append(w, e.Coat)
		}
		if e.Before > 0 {
			w = append(w, "before "+p.Weight(e.Before))
		}
		if weighed {
			w = append(w, "after "+p.Weight(e.Weight))
		}
		if e.Removed > 0 {
			w = append(w, p.Weight(e.Removed)+" taken")
		}
	case wheel.Sent, wheel.SentPart:
		w = append(w, "to "+e.To)
		if weighed {
			w = append(w, p.Weight(e.Weight))
		}
		w = append(w, p.Sending(e.Sending())...)
	default:
		return p.otherDetail(e)
	}
	return strings.Join(w, ", ")
}

func (p Printer) otherDetail(e wheel.Entry) string {
	switch e.Kind {
	case wheel.Did, wheel.Skipped:
		if e.SameRound() {
			return "the same round as " + wheel.MarkOf(e.Target)
		}
	case wheel.Moved:
		if e.Place.Bound() == "" {
			return "to " + string(e.Place)
		}
		return PlaceName(string(e.Place))
	case wheel.Checked:
		return p.Sentence(e.Found)
	case wheel.Tasted:
		if t, err := wheel.ParseTasting(e.Detail); err == nil {
			return t.String()
		}
	case wheel.Logged:
		if m, err := wheel.ParseMakeLog(e.Detail); err == nil {
			return strings.TrimSpace(string(m.What) + " " + p.LogLine(m))
		}
	case wheel.Noted:
		if _, err := wheel.ParsePhoto(e.Detail); err == nil {
			return "photo"
		}
	case wheel.Planned:
		return e.Plan
	case wheel.Tagged:
		return e.Tag
	case wheel.Asked:
		if e.Detail != "" {
			return p.Sentence(e.Because())
		}
	case wheel.Struck:
		return "withdraws " + wheel.MarkOf(e.Target)
	}
	return p.recordDetail(e)
}
