package cli

import (
	"errors"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/entries"
	"rindkeep/wheel"
)

// jpegBegins is how every JPEG begins: start of image (ITU-T T.81, table B.1).
const jpegBegins = "\xff\xd8"

func (a *app) wheelPhotoCmd() *cobra.Command {
	var out string
	var replace bool
	c := a.nowCmd("photo ENTRY", "Give out the picture of a note", `
rindkeep wheel photo 261120A-03:9f3c1a --out crack.jpg      as wheel show marks the note
rindkeep wheel photo 261120A-03:9f3c1a --out - | display`, exactly("ENTRY"), func(cmd *cobra.Command, args []string) error {
		if out == "" {
			return usagef("--out is missing: name the file the picture goes to, or - for standard output")
		}
		var picture []byte
		var p wheel.Photo
		err := a.view(func(s *session) error {
			es, err := entries.Named(s.S, args[0])
			if err != nil {
				return err
			}
			if len(es) != 1 || es[0].Kind != wheel.Noted || es[0].Detail == "" {
				return at(args[0], errors.New("that is no note with a photo"))
			}
			if p, err = wheel.ParsePhoto(es[0].Detail); err != nil {
				return err
			}
			picture, err = s.tx.Photo(p)
			return err
		})
		if err != nil {
			return err
		}
		if out == "-" {
			_, _ = a.env.Out.Write(picture) // pipe remembers a failure
			return nil
		}
		if err := freeToWrite(out, replace); err != nil {
			return err
		}
		if err := mayReplace(out, jpegBegins); err != nil {
			return err
		}
		if err := writeFile(out, picture); err != nil {
			return err
		}
		if a.json {
			return a.document(struct {
				Schema string `json:"schema"`
				File   string `json:"file"`
				wheel.Photo
			}{schema("photo"), out, p})
		}
		a.print("%s: %d x %d pixels, %d kB\n", safePath(out), p.Width, p.Height, (p.Bytes+500)/1000)
		return nil
	})
	c.Flags().StringVar(&out, "out", "", "`FILE` to write, or - for standard output")
	c.Flags().BoolVar(&replace, "replace", false, "write over a picture that is there")
	return c
}
