package console

import (
	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
)

// ShapeFlags are the measures of a wheel as flags.
type ShapeFlags struct{ form, diameter, height, length, width, top string }

// Add adds the flags to a command.
func (s *ShapeFlags) Add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&s.form, "shape", "", "`cylinder|block|sphere|pyramid` (default: what the measures make)")
	f.StringVar(&s.diameter, "diameter", "", "`LENGTH` across")
	f.StringVar(&s.height, "height", "", "`LENGTH` high")
	f.StringVar(&s.length, "length", "", "`LENGTH` of a block, or of a pyramid's base")
	f.StringVar(&s.width, "width", "", "`LENGTH` of a block's other side")
	f.StringVar(&s.top, "top", "", "`LENGTH` of a pyramid's top edge")
}

// Given reads the flags; a shape without form means none was given.
func (s *ShapeFlags) Given(in *Figures) (sh shape.Shape) {
	for _, m := range []struct {
		flag, value string
		to          *quantity.Metres
	}{
		{"--diameter", s.diameter, &sh.Diameter}, {"--height", s.height, &sh.Height}, {"--length", s.length, &sh.Length},
		{"--width", s.width, &sh.Width}, {"--top", s.top, &sh.TopLength},
	} {
		if m.value != "" {
			*m.to = in.Length(m.flag, m.value)
		}
	}
	sh.Form = shape.Form(s.form)
	sh, err := sh.Completed()
	if err != nil && in.Err == nil {
		in.Err = Misread(err)
	}
	return sh
}
