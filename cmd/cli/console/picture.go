package console

import (
	"fmt"

	"github.com/spf13/cobra"
)

// Picture is where a command's drawing goes, and how large it is.
type Picture struct {
	Path string // "" none, - standard output
	size string
	w, h int
}

// Flags adds the flags of a drawing.
func (p *Picture) Flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&p.Path, "svg", "", "write the picture to `FILE`; - for standard output")
	cmd.Flags().StringVar(&p.size, "size", "760x420", "`WIDTHxHEIGHT` of the picture")
}

// Check refuses flags that can't be.
func (p *Picture) Check(c *Console) error {
	if p.Path == "-" && c.JSON {
		return Usagef("--json and a picture both want standard output; name a file for the picture")
	}
	var rest string
	if n, _ := fmt.Sscanf(p.size, "%dx%d%s", &p.w, &p.h, &rest); n != 2 {
		return At("--size", Usagef("--size %s cannot be read; write WIDTHxHEIGHT: 760x420", SafeWord(p.size)))
	}
	if p.w < 280 || p.w > 4000 || p.h < 240 || p.h > 4000 {
		return At("--size", Usagef("--size %dx%d is out of range; give 280x240 to 4000x4000", p.w, p.h))
	}
	return nil
}

// Put writes a drawing where it is wanted; done says that nothing else is to be printed.
func (p *Picture) Put(c *Console, draw func(w, h int) string) (done bool, err error) {
	switch p.Path {
	case "":
		return false, nil
	case "-":
		c.Raw(draw(p.w, p.h))
		return true, nil
	}
	if err := WriteOver(p.Path, []byte(draw(p.w, p.h)), "<svg", true); err != nil {
		return false, err
	}
	c.Note("picture written to %s", SafeWord(p.Path))
	return !c.JSON, nil
}
