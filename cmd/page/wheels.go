package page

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/tasting"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/sheet"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
)

// The wheels: what is recorded of them, and what is known.

func saveMove(c *call, v values) (any, error) {
	q := wheels.NewPlace{What: v.whom(), Place: v.text("place"), Note: v.text("note"), Sure: v.truth("sure")}
	return record(c, nil, wheels.Move, q, c.words().FillRecorded)
}

func saveTag(c *call, v values) (any, error) {
	q := wheels.NewTag{Wheel: v.text("wheel"), Tag: v.text("tag"), Sure: v.truth("sure")}
	return record(c, nil, wheels.Tag, q, c.words().FillRecorded)
}

// because records something of wheels for a reason.
func because(act app.Deed[wheels.Because, wheels.Recorded]) func(*call, values) (any, error) {
	return func(c *call, v values) (any, error) {
		return record(c, nil, act, wheels.Because{
			What: v.whom(), Why: v.text("why"), Sure: v.truth("sure"), Destroyed: v.truth("destroyed"),
		}, c.words().FillRecorded)
	}
}

// holding holds wheels, or releases them.
func holding(act app.Deed[wheels.Holds, wheels.Recorded]) func(*call, values) (any, error) {
	return func(c *call, v values) (any, error) {
		q := wheels.Holds{
			Because: wheels.Because{What: v.whom(), Why: v.text("why"), Sure: v.truth("sure")}, Kind: v.text("kind"),
		}
		return record(c, nil, act, q, c.words().FillRecorded)
	}
}

func listHeld(c *call) (any, error) {
	q := wheels.WhichHeld{What: c.q["what"]}
	err := c.listed(&q.Narrow, &q.Most)
	if err != nil {
		return nil, err
	}
	d, err := wheels.WhatIsHeld(c.ctx, c.app, c.caller, q)
	return filled(d, err, c.words().FillHeld)
}

// heldHere is one reason for holding wheels as its page shows it.
type heldHere struct {
	wheels.Held
	Title string
	Facts [][2]string
	Tags  []string // of the wheels; none: too many to name
}

// mostHeld is how many wheels of one reason the page names.
const mostHeld = 60

func heldPage(c *call) (View, error) {
	d, err := wheels.WhatIsHeld(c.ctx, c.app, c.caller, wheels.WhichHeld{})
	if err != nil {
		return View{}, err
	}
	p := c.words()
	p.FillHeld(&d)
	b := struct {
		Sum, MayLift string
		Holds        []heldHere
	}{p.HeldSum(d), words.MayLift(d.Releasers, d.NamedBy, d.NamedOn), nil}
	for _, h := range d.Holds {
		x := heldHere{Held: h, Title: words.HeldTitle(h), Facts: p.HeldFacts(h)}
		if len(h.Wheels) <= mostHeld {
			x.Tags = h.Wheels
		}
		b.Holds = append(b.Holds, x)
	}
	return View{Template: "held.html", Title: "Held", Here: "held", Body: b}, nil
}

func heldSheet(c *call) ([]byte, error) {
	p := c.words()
	return c.sheet(func(s *app.Session, h sheet.Head) (func() (sheet.Doc, error), error) {
		d, err := wheels.GatherHeld(s, wheels.WhichHeld{})
		p.FillHeld(&d)
		return func() (sheet.Doc, error) { return sheet.HeldSheet(h, sheet.HeldOf(p, d)) }, err
	})
}

func saveSending(c *call, v values) (any, error) {
	in := c.figures(v.text)
	q := wheels.Sending{
		What: v.whom(), To: v.text("to"), Weight: in.weight("weight"), Part: v.truth("part"), Document: v.text("document"),
		Override: v.text("override"), Note: v.text("note"), Sure: v.truth("sure"),
	}
	return record(c, in, wheels.Send, q, c.words().FillRecorded)
}

func saveNote(c *call, v values) (any, error) {
	tag, lot := v.text("wheel"), v.text("lot")
	photo, _ := v["photo"].([]byte)
	switch {
	case tag == "" && lot == "":
		return nil, badRequestf("wheel", "wheel or lot is missing")
	case tag != "" && lot != "":
		return nil, badRequestf("wheel", "give wheel or lot, not both")
	case lot != "":
		c.caller.Command = "rindkeep make note"
		d, err := makes.Note(c.ctx, c.app, c.caller, makes.NewNote{Of: lot, Text: v.text("text"), Photo: photo})
		return saved(d, err, nil)
	}
	q := wheels.NewNote{What: []string{tag}, Text: v.text("text"), Photo: photo}
	return record(c, nil, wheels.Note, q, c.words().FillRecorded)
}

func saveTasting(c *call, v values) (any, error) {
	scores, _ := v["scores"].(map[string]string)
	for name := range scores {
		if !slices.Contains(wheel.Attributes, wheel.Attribute(name)) {
			return nil, badRequestf("scores."+name, "no score %q; the scores are appearance, colour, texture and flavour",
				short(name))
		}
	}
	in := c.figures(v.text)
	q := tasting.New{
		What: v.whom(), Own: v.list("faults_own"), Core: in.weight("core"), Note: v.text("note"), Sure: v.truth("sure"),
	}
	in.text = func(name string) string { return scores[strings.TrimPrefix(name, "scores.")] }
	score := func(a wheel.Attribute) wheel.Score { return wheel.Score(given(in, "scores."+string(a), whole)) }
	q.Found = wheel.Tasting{
		Appearance: score(wheel.Appearance), Colour: score(wheel.Colour), Texture: score(wheel.Texture),
		Flavour: score(wheel.Flavour), Faults: v.list("faults"),
	}
	return record(c, in, tasting.Record, q, nil)
}

// photo is the picture that goes with a note, named as its entry is.
func (s *Server) photo(w http.ResponseWriter, r *http.Request) {
	p, err := inTurn(s.callOf(r), func(c *call) (wheels.Picture, error) {
		return wheels.Photo(c.ctx, c.app, c.caller, c.name())
	})
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "image/jpeg")
	// A browser keeps it and asks each time whether it may still show it: who comes
	// after on the same phone may not.
	w.Header().Set("Cache-Control", "private, no-cache")
	w.Header().Set("ETag", fmt.Sprintf(`"%x"`, sha256.Sum256(p.JPEG)))
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(p.JPEG))
}
