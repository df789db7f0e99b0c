package wheels

import (
	"context"
	"slices"
	"strings"

	"rindkeep/cave"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/store/disagree"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// HereAlready refuses to receive a wheel that is here.
type HereAlready struct {
	Wheel string `json:"wheel"`
	Place string `json:"place"`
}

// Code implements reason.Reason.
func (HereAlready) Code() string { return "wheel-here-already" }

// Receive records that wheels came from another site, named by the tags on them. One that the
// book hasn't heard of is noted, and its move is recorded when its data has come.
func Receive(ctx context.Context, a *app.App, c app.Caller, q NewPlace) (d app.Did[Recorded], err error) {
	place, err := cave.ParsePlace(q.Place)
	if err != nil {
		return d, app.Misread("place", err)
	}
	return app.Act(ctx, a, c, func(s *app.Session) (d Recorded, err error) {
		if _, shared := s.Tx.Own(); !shared {
			return d, app.Refuse(app.NotShared)
		}
		in, err := makes.PlaceIn(s, place)
		if err != nil {
			return d, err
		}
		if site := in.Site(); site != "" {
			return d, app.At("place", refusal.Because("", refusal.OtherSites{What: "room", Name: in.Room(), Site: site}))
		}
		var known, unknown []string
		for word := range strings.SplitSeq(strings.Join(q.What, ","), ",") {
			if word = strings.TrimSpace(word); word == "" {
				continue
			}
			tag, err := received(s, word)
			if err != nil {
				return d, err
			}
			if tag != "" {
				known = append(known, tag)
			} else {
				unknown = append(unknown, word)
			}
		}
		like := wheel.Entry{Kind: wheel.Moved, Note: q.Note, Place: in}
		if len(known) > 0 {
			q.What = known
			d, err = record(s, known, like, q.move(in))
			d.Came = true
		} else {
			d = Recorded{Schema: app.Schema("recorded"), Entry: like, Wheels: []string{}}
		}
		if err == nil {
			err = SettleClaims(s, append(known, unknown...))
		}
		if err == nil {
			err = d.claim(s, in, unknown)
		}
		return d, err
	})
}

// received is the wheel that a tag on a wheel from another site means, as the book writes it; ""
// if it hasn't heard of it.
func received(s *app.Session, tag string) (string, error) {
	if err := cave.CheckSited("tag", tag); err != nil {
		return "", app.At("what", err)
	}
	coming, here, err := disagree.Claimed(s.Tx, tag)
	switch {
	case err != nil:
		return "", err
	case len(coming) == 1:
		return coming[0].Tag, nil
	case len(coming) > 1:
		return "", app.Refuse(refusal.Several{What: "wheel", Name: tag, Names: app.Tags(coming)}).Of(tag)
	case len(here) == 1 && strings.Contains(here[0].Tag, ":"): // it's no namesake
		return "", app.Refuse(HereAlready{here[0].Tag, string(here[0].Place)}).Of(tag)
	}
	return "", nil
}

// claim notes wheels that were received and that the book hasn't heard of.
func (d *Recorded) claim(s *app.Session, place cave.Place, tags []string) error {
	at, _, err := s.Moment()
	if err != nil || len(tags) == 0 {
		d.Unknown = []string{}
		return err
	}
	own, err := s.TakesPart() // else nobody would ever tell it of them
	if err != nil {
		return err
	}
	d.At, d.When, d.Unknown, d.Same = app.Instant(at, s.Zone), s.Earlier(at), tags, false
	for _, tag := range tags {
		if err := s.Write.PutPact(register.Pact{
			ID: s.NextID(), Kind: register.Claimed, Site: own.Site, From: own.Site, Tag: tag, Place: place, At: at,
			Written: s.Time, By: s.Who,
		}); err != nil {
			return err
		}
	}
	return nil
}

// SettleClaims settles the open claims of this site under any of some tags, with their site before
// them or not: it's known what they mean.
func SettleClaims(s *app.Session, tags []string) error {
	own, _ := s.Tx.Own()
	all, err := s.Tx.Pacts()
	if err != nil {
		return err
	}
	for _, p := range disagree.OpenClaims(all) {
		site, bare := cave.Sited(p.Tag)
		if p.From != own.Site || !slices.ContainsFunc(tags, func(tag string) bool {
			of, rest := cave.Sited(tag)
			return strings.EqualFold(rest, bare) && (of == "" || site == "" || of == site)
		}) {
			continue
		}
		if err := s.Write.PutPact(register.Pact{
			ID: s.NextID(), Kind: register.Settled, Site: own.Site, From: own.Site, Of: p.ID, Written: s.Time, By: s.Who,
		}); err != nil {
			return err
		}
	}
	return nil
}
