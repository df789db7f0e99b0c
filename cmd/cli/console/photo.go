package console

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/photo"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

// PhotoFlag adds the flag of a picture that goes with a note.
func PhotoFlag(cmd *cobra.Command, file *string) {
	cmd.Flags().StringVar(file, "photo", "", fmt.Sprintf("a picture to go with it: a JPEG, PNG or WebP `FILE`, "+
		"- for standard input; it's turned upright, made at most %d pixels long, and kept without place, time and camera",
		photo.Longest))
}

// Photos lists the photos of a wheel or a lot, the oldest first.
func (c *Console) Photos(of string, shots []app.Shot) {
	if len(shots) == 0 {
		return
	}
	c.Print("\nphotos (rindkeep wheel photo %s:CODE --out FILE saves one)\n", SafeWord(of))
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}, {}}}
	for _, s := range shots {
		t.Add(s.Mark, words.Minute(s.At), text.Safe(s.Note), fmt.Sprintf("%d x %d", s.Width, s.Height))
	}
	c.Table(t)
}

// ReadPhoto reads the picture of a file; nil where none is named.
func (c *Console) ReadPhoto(file string) ([]byte, error) {
	if file == "" {
		return nil, nil
	}
	in, err := c.OpenFile(file)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	picture, err := io.ReadAll(io.LimitReader(in, photo.MostBytes+1))
	if err != nil {
		return nil, At(file, fmt.Errorf("cannot read %s: %s", SafeWord(file), PlainOS(err)))
	}
	return picture, nil
}
