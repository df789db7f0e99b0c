package cli

import (
	"fmt"

	"github.com/spf13/cobra"
)

// picture is where a command's drawing goes, and how large it is.
type picture struct {
	path string // "" none, - standard output
	size string
	w, h int
}

func (p *picture) add(c *cobra.Command) {
	c.Flags().StringVar(&p.path, "svg", "", "write the picture to `FILE`; - for standard output")
	c.Flags().StringVar(&p.size, "size", "760x420", "`WIDTHxHEIGHT` of the picture")
}

// given checks the flags.
func (p *picture) given(a *app) error {
	if p.path == "-" && a.json {
		return usagef("--json and a picture both want standard output; name a file for the picture")
	}
	var rest string
	if n, _ := fmt.Sscanf(p.size, "%dx%d%s", &p.w, &p.h, &rest); n != 2 {
		return at("--size", usagef("--size %s cannot be read; write WIDTHxHEIGHT: 760x420", safeWord(p.size)))
	}
	if p.w < 280 || p.w > 4000 || p.h < 240 || p.h > 4000 {
		return at("--size", usagef("--size %dx%d is out of range; give 280x240 to 4000x4000", p.w, p.h))
	}
	return nil
}

// put writes a drawing where it is wanted; done says that it took standard
// output and nothing else is to be printed.
func (p *picture) put(s *session, draw func(w, h int) string) (done bool, err error) {
	switch p.path {
	case "":
		return false, nil
	case "-":
		s.print("%s", draw(p.w, p.h))
		return true, nil
	}
	if err := mayReplace(p.path, "<svg"); err != nil {
		return false, err
	}
	if err := writeFile(p.path, []byte(draw(p.w, p.h))); err != nil {
		return false, err
	}
	s.note("picture written to %s", safeWord(p.path))
	return !s.json, nil
}
