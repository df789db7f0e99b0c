package disagree

import (
	"slices"
	"strings"

	"rindkeep/store"
	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/members"
	"rindkeep/store/register"
)

// Claimed lists the wheels that may be meant by one that this site received under a tag: those of
// that tag that aren't here, or if any is on the way here, those.
func Claimed(t *store.ReadTx, tag string) (coming, here []derive.WheelState, err error) {
	own, _ := t.Own()
	ids, err := t.MeantBy(layout.Tags, tag)
	if err != nil {
		return nil, nil, err
	}
	var away []derive.WheelState
	for _, id := range ids {
		s, err := t.State(id)
		if err != nil {
			return nil, nil, err
		}
		switch {
		case !s.Here():
		case s.Place.Bound() == own.Name:
			coming = append(coming, s)
		case s.Place.Site() != "":
			away = append(away, s)
		default:
			here = append(here, s)
		}
	}
	if len(coming) == 0 {
		coming = away
	}
	return coming, here, nil
}

// claims lists the wheels that were received by their tag, and whose data hasn't come.
func (t *reader) claims() (out []Disagreement, err error) {
	own, _ := t.Own()
	pacts, err := t.Pacts()
	if err != nil {
		return nil, err
	}
	lasts, err := t.Lasts()
	if err != nil {
		return nil, err
	}
	open := OpenClaims(pacts)
	for _, p := range open {
		d := Disagreement{Kind: ClaimWaits, Thing: "wheel", Name: p.Tag, Stands: Side{At: p.Written}, ID: p.ID}
		if d.Stands.Site, _, err = t.SiteName(p.From); err != nil {
			return nil, err
		}
		if d.Stands.Name = string(p.Place); p.From != own.Site {
			d.Stands.Name = d.Stands.Site + ":" + d.Stands.Name
		}
		heard := !slices.ContainsFunc(lasts, func(l members.Last) bool {
			return l.Site != p.From && !l.Past(p.Written)
		})
		twice := slices.ContainsFunc(open, func(o register.Pact) bool {
			return o.From != p.From && strings.EqualFold(o.Tag, p.Tag)
		})
		coming, _, err := Claimed(t.ReadTx, p.Tag)
		switch {
		case err != nil:
			return nil, err
		case twice, len(coming) > 1:
			d.Kind = ClaimUnclear
		case heard && len(coming) == 0:
			d.Kind = ClaimUnknown
		}
		out = append(out, d)
	}
	return out, nil
}

// OpenClaims are the claims that nobody settled.
func OpenClaims(pacts []register.Pact) (out []register.Pact) {
	for _, p := range pacts {
		if p.Kind == register.Claimed && !slices.ContainsFunc(pacts, func(o register.Pact) bool {
			return o.Kind == register.Settled && o.Of == p.ID
		}) {
			out = append(out, p)
		}
	}
	return out
}
