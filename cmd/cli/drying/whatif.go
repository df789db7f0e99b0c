package drying

import (
	"fmt"
	"strings"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
)

// parseIf reads rh=88,temp=10,air=still; several are parted by /.
func parseIf(c *console.Console, s string) ([]drying.OtherAir, error) {
	f := c.Figures()
	var out []drying.OtherAir
	for part := range strings.SplitSeq(s, "/") {
		o := drying.OtherAir{Name: strings.Join(strings.Split(strings.TrimSpace(part), ","), ", ")}
		for kv := range strings.SplitSeq(part, ",") {
			k, v, _ := strings.Cut(strings.TrimSpace(kv), "=")
			switch strings.ToLower(strings.TrimSpace(k)) {
			case "rh":
				o.RH = new(f.Percent("--if", v))
			case "temp":
				o.Temp = new(f.Temp("--if", v))
			case "air":
				o.Movement = new(console.Read(f, "--if", v, air.ParseMovement))
			default:
				return nil, console.At("--if", console.Usagef("%q is no condition; give rh=88, temp=10 or air=still, "+
					"with commas between", console.SafeWord(kv)))
			}
		}
		out = append(out, o)
	}
	return out, f.Err
}

func whatIf(c *console.Console, what []string, other string) error {
	if len(what) == 0 {
		return console.Usagef("--if needs a wheel: rindkeep dry TAG --if rh=88,temp=10")
	}
	airs, err := parseIf(c, other)
	if err != nil {
		return err
	}
	w, err := drying.Compare(c.Ctx, c.App, c.Caller(), what, airs)
	if err != nil {
		return err
	}
	if c.JSON {
		return c.Document(w)
	}
	for i, x := range w.Wheels {
		if i > 0 {
			c.Print("\n")
		}
		c.Print("%s  %s\n", c.Style("1")(x.Wheel), x.Of.Variety.Title)
		showCases(c, x.Cases)
	}
	c.Next("\nloss on days 30, 90 and 180 of drying; to sell: weight on day 90; from now on, all else kept")
	return nil
}

func showCases(c *console.Console, cases []drying.Case) {
	right := func(title string) text.Column { return text.Column{Title: title, Right: true} }
	t := text.Table{Indent: 2, Columns: []text.Column{{Title: "air", Wrap: true}, right(""), right(""),
		{Title: "dry enough"}, right("30 d"), right("90 d"), right("180 d"), right("to sell")}}
	for _, x := range cases {
		on := "-"
		if x.On != nil {
			on = c.Words.ExpectedShort(*x.On)
		}
		row := []string{x.Air, c.Words.Temp(x.Span.Air.Temp), c.Words.RH(x.Span.Air.RH), on}
		for _, l := range x.Losses {
			row = append(row, fmt.Sprintf("%.1f %%", *l.Loss.Best))
		}
		t.Add(append(row, c.Words.Weight(quantity.Grams(*x.Weights[1].Grams.Best)))...)
	}
	c.Lines(t.Lines(c.Env.Columns()))
}
