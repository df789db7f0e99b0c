package drying

import (
	"fmt"
	"time"

	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/words"
)

// pace tells on a terminal how far a load has come and how long it will take, in one
// line that is written over; with --verbose now and then.
type pace struct {
	c       *console.Console
	stage   drying.Stage
	running bool
	told    bool      // that it is a load
	began   time.Time // the stage
	said    time.Time
	logged  time.Time
	written bool
}

// tell takes the stage a load is at and how far that has come. A stage begins at 0 of 0.
func (p *pace) tell(stage drying.Stage, done, of int64) {
	now := p.c.Env.Now()
	if done == 0 && of == 0 {
		p.end()
		if !p.told {
			p.c.Note("over %d rows: checked first, then recorded wheel by wheel;\n"+
				"if it's interrupted, run the same command again to finish", drying.Long)
		}
		p.told, p.running, p.stage = true, true, stage
		p.began, p.said, p.logged = now, now, now
		return
	}
	if now.Sub(p.said) < 200*time.Millisecond {
		return
	}
	p.said = now
	line := words.LoadProgress(stage, done, of)
	if done < of && now.Sub(p.began) > time.Second {
		left := time.Duration(float64(now.Sub(p.began)) * float64(of-done) / float64(done))
		line += ", " + words.TimeLeft(left)
	}
	if now.Sub(p.logged) > 5*time.Second {
		p.logged = now
		p.c.Log.Info().Msg(line)
	}
	if !p.c.Env.OutTTY || p.c.Quiet || p.c.JSON {
		return
	}
	p.written = true
	fmt.Fprintf(p.c.Env.Err, "\r%s\x1b[K", line)
}

// end clears the line of a stage.
func (p *pace) end() {
	if !p.running {
		return
	}
	p.running = false
	p.c.Log.Info().Dur("took", p.c.Env.Now().Sub(p.began)).Msg(words.LoadStage(p.stage))
	if p.written {
		p.written = false
		fmt.Fprint(p.c.Env.Err, "\r\x1b[K")
	}
}
