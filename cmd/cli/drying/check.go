package drying

import (
	"slices"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// seenFlag is a question of a hand check.
type seenFlag struct {
	name, about string
	of          func(*wheel.HandCheck) *wheel.Seen
}

// seenFlags are the questions of a hand check: alone they say yes.
var seenFlags = []seenFlag{
	{"dry-to-touch", "dry to the touch all over", func(f *wheel.HandCheck) *wheel.Seen { return &f.DryToTouch }},
	{"cracks", "cracks in the rind", func(f *wheel.HandCheck) *wheel.Seen { return &f.Cracks }},
	{"weeping", "weeping", func(f *wheel.HandCheck) *wheel.Seen { return &f.Weeping }},
	{"mould", "mould that shouldn't be there", func(f *wheel.HandCheck) *wheel.Seen { return &f.Mould }},
	{"mites", "mites", func(f *wheel.HandCheck) *wheel.Seen { return &f.Mites }},
	{"gas", "blown by gas that shouldn't be there", func(f *wheel.HandCheck) *wheel.Seen { return &f.Gas }},
}

// CheckCmd is check.
func CheckCmd(c *console.Console) *cobra.Command {
	var q drying.HandCheck
	var sound bool
	said := make([]wheel.Seen, len(seenFlags))
	cmd := c.Cmd("check "+console.What, "Record a hand check of the rind", `
rindkeep check cellar/B --sound                         dry to the touch and nothing amiss
rindkeep check cellar/B --sound --dry-to-touch no       nothing amiss, but still damp
rindkeep check 261120A-03 --dry-to-touch --cracks no --weeping no --mould no
rindkeep check 261120A --dry-to-touch no
rindkeep check cellar/B/2 --mites yes --note "on the undersides"
rindkeep check 261120A-03 --gas yes --note "domed, sounds hollow"`, console.AtLeast("TAG"),
		func(_ *cobra.Command, args []string) error {
			if q.What = args; sound {
				q.Found = wheel.SoundRind()
			}
			for i, x := range seenFlags {
				if said[i] != wheel.NotSaid {
					*x.of(&q.Found) = said[i]
				}
			}
			d, err := drying.Check(c.Ctx, c.App, c.Caller(), q)
			return checked(c, d, err)
		})
	f := cmd.Flags()
	for i, x := range seenFlags {
		console.Figure(f, &said[i], console.As(wheel.ParseSeen), x.name, "", x.about+": `yes|no`")
		f.Lookup(x.name).NoOptDefVal = "yes"
	}
	f.BoolVar(&sound, "sound", false, "dry to the touch and nothing amiss: every answer that isn't given otherwise")
	f.StringVar(&q.Note, "note", "", "`TEXT` to save with it")
	return c.CompletesWhat(cmd)
}

func checked(c *console.Console, did app.Did[drying.Checked], err error) error {
	d, done, err := console.Recorded(c, did, err, c.Words.FillChecked)
	switch {
	case done:
		return err
	case len(d.Wheels) == 0:
		c.Print("no wheels: nothing recorded\n")
		return nil
	case d.Same:
		c.Print("no change, this check is recorded already: %s\n", c.Words.Tags(d.Wheels))
		return nil
	}
	c.Print("checked %s%s, %s: %s\n", text.Count(len(d.Wheels), "wheel"), c.Words.When(d.When), d.Found,
		c.Words.Tags(d.Wheels))
	for _, s := range d.Remarks {
		c.Indented(s)
	}
	c.Cautions(d.Cautions)
	for _, v := range d.Verdicts {
		if !c.Quiet {
			c.Indented(v.Wheel + " " + c.Words.AnswerShort(v.Dry))
		}
	}
	c.Next("wrong? rindkeep strike last --why TEXT")
	return nil
}

// Answered joins a hand check's flag and the answer behind it, --cracks no to
// --cracks=no: a flag that may stand alone would leave its answer behind as the name
// of a wheel.
func Answered(args []string) []string {
	var out []string
	check := false
	for i := 0; i < len(args); i++ {
		check = check || args[i] == "check"
		asked := slices.ContainsFunc(seenFlags, func(x seenFlag) bool { return args[i] == "--"+x.name })
		if check && asked && i+1 < len(args) {
			if _, err := wheel.ParseSeen(args[i+1]); err == nil {
				out = append(out, args[i]+"="+args[i+1])
				i++
				continue
			}
		}
		out = append(out, args[i])
	}
	return out
}
