package console

import (
	"fmt"
	"time"

	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/words"
)

// Pace tells on a terminal how far a load has come and how long it will take, in one
// line that is written over; with --verbose now and then.
type Pace struct {
	C    *Console
	Of   string // what is loaded: weights, rows
	Note string // said first; "": nothing

	stage   drying.Stage
	running bool
	began   time.Time // the stage
	said    time.Time
	logged  time.Time
	written bool
}

// Tell takes the stage a load is at and how far that has come. A stage begins at 0 of 0.
func (p *Pace) Tell(stage drying.Stage, done, of int64) {
	now := p.C.Env.Now()
	if done == 0 && of == 0 {
		p.End()
		if p.Note != "" {
			p.C.Note("%s", p.Note)
		}
		p.Note, p.running, p.stage = "", true, stage
		p.began, p.said, p.logged = now, now, now
		return
	}
	if now.Sub(p.said) < 200*time.Millisecond {
		return
	}
	p.said = now
	line := words.LoadProgress(stage, p.Of, done, of)
	if done < of && now.Sub(p.began) > time.Second {
		left := time.Duration(float64(now.Sub(p.began)) * float64(of-done) / float64(done))
		line += ", " + words.TimeLeft(left)
	}
	if now.Sub(p.logged) > 5*time.Second {
		p.logged = now
		p.C.Log.Info().Msg(line)
	}
	if !p.C.Env.OutTTY || p.C.Quiet || p.C.JSON {
		return
	}
	p.written = true
	fmt.Fprintf(p.C.Env.Err, "\r%s\x1b[K", line)
}

// End clears the line of a stage.
func (p *Pace) End() {
	if !p.running {
		return
	}
	p.running = false
	p.C.Log.Info().Dur("took", p.C.Env.Now().Sub(p.began)).Msg(words.LoadStage(p.stage))
	if p.written {
		p.written = false
		fmt.Fprint(p.C.Env.Err, "\r\x1b[K")
	}
}

// paceOfWheels tells how far an act on many wheels has come.
func (c *Console) paceOfWheels() func(recording bool, done, of int) {
	p := &c.wheels
	p.C, p.Of = c, "wheels"
	at := drying.Reading
	return func(recording bool, done, of int) {
		stage := drying.Checking
		if recording {
			stage = drying.Recording
		}
		if stage != at {
			at = stage
			p.Tell(stage, 0, 0)
		}
		if p.Tell(stage, int64(done), int64(of)); recording && done == of {
			p.End()
		}
	}
}
