package care

import (
	"errors"
	"fmt"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/store"
)

// Import makes the book from an export.
func Import(c *console.Console, name string) error {
	in, err := c.OpenFile(name)
	if err != nil {
		return err
	}
	defer in.Close()
	var tell func(int)
	if p := progress(c, func(n, _ int) string { return fmt.Sprintf("read %d lines", n) }); p != nil {
		tell = func(n int) { p(n, -1) }
	}
	m, err := care.Import(c.Ctx, c.App, name, in, tell)
	var ie *store.ImportError
	if errors.As(err, &ie) {
		where := name
		if ie.Line > 0 {
			where = fmt.Sprintf("%s:%d", name, ie.Line)
		}
		return console.At(where, fmt.Errorf("%s: %s; nothing was imported", console.SafePath(name), c.WithHint(err)))
	}
	c.Committed = c.Committed || err == nil
	if err := moved(c, "imported to", m, err); err != nil {
		return err
	}
	c.Next("check it: rindkeep book check")
	return nil
}
