package wheels

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/cli/console"
)

// jpegBegins is how every JPEG begins: start of image (ITU-T T.81, table B.1).
const jpegBegins = "\xff\xd8"

func photoCmd(c *console.Console) *cobra.Command {
	var out string
	var replace bool
	cmd := c.NowCmd("photo ENTRY", "Save a note's photo", `
rindkeep wheel photo 261120A-03:9f3c1a --out crack.jpg      the code is in wheel show
rindkeep wheel photo 261120A-03:9f3c1a --out - | display`, console.Exactly("ENTRY"),
		func(_ *cobra.Command, args []string) error {
			if out == "" {
				return console.Usagef("--out is missing: name a file for the photo, or - for standard output")
			}
			d, err := wheels.Photo(c.Ctx, c.App, c.Caller(), args[0])
			switch {
			case err != nil:
				return err
			case out == "-":
				_, _ = c.Env.Out.Write(d.JPEG) // Output remembers a failure
				return nil
			}
			if err := console.WriteOver(out, d.JPEG, jpegBegins, replace); err != nil {
				return err
			}
			if d.File = out; c.JSON {
				return c.Document(d)
			}
			c.Print("%s: %d x %d pixels, %.0f kB\n", console.SafePath(out), d.Width, d.Height, float64(d.Bytes)/1e3)
			return nil
		})
	cmd.Flags().StringVar(&out, "out", "", "`FILE` to write, or - for standard output")
	cmd.Flags().BoolVar(&replace, "replace", false, "replace a photo that is there")
	return cmd
}
