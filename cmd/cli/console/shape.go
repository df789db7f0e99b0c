package console

import (
	"github.com/spf13/cobra"

	"rindkeep/wheel/shape"
)

// ShapeFlags are the measures of a wheel as flags.
type ShapeFlags struct{ given shape.Shape }

// Add adds the flags to a command.
func (s *ShapeFlags) Add(cmd *cobra.Command) {
	f := cmd.Flags()
	sh := &s.given
	f.StringVar((*string)(&sh.Form), "shape", "", "`cylinder|block|sphere|pyramid` (default: what the measures make)")
	Figure(f, &sh.Diameter, Length, "diameter", "", "`LENGTH` across")
	Figure(f, &sh.Height, Length, "height", "", "`LENGTH` high")
	Figure(f, &sh.Length, Length, "length", "", "`LENGTH` of a block, or of a pyramid's base")
	Figure(f, &sh.Width, Length, "width", "", "`LENGTH` of a block's other side")
	Figure(f, &sh.TopLength, Length, "top", "", "`LENGTH` of a pyramid's top edge")
}

// Shape is what was given; a shape without form means nothing was.
func (s *ShapeFlags) Shape() (shape.Shape, error) {
	sh, err := s.given.Completed()
	if err != nil {
		return sh, Misread(err)
	}
	return sh, nil
}
