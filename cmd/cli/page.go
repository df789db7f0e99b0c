package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"

	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/cli/pages"
	"rindkeep/cmd/page"
)

// PageOptions lets the page run the commands it has no use case for yet.
func PageOptions(book string, env Env) page.Options {
	c, _ := console.New(context.Background(), env)
	a := &app{Console: c, env: env, book: book}
	o := pages.Options(book, env)
	o.Raw = a.printed
	return o
}

// printed runs a command whose standard output is no JSON: a picture, a table,
// a sheet.
func (a *app) printed(ctx context.Context, args []string) page.Reply {
	r := a.ranFor(ctx, args, nil)
	if r.Code != exitDone {
		// Said in text; the same words as the document's.
		said, hint, _ := strings.Cut(r.Said.Error, "\nhint: ")
		r.Said.Error, r.Said.Hint = strings.TrimPrefix(said, "rindkeep: "), hint
	}
	return r
}

func (a *app) ranFor(ctx context.Context, args []string, in []byte) page.Reply {
	var out, errs bytes.Buffer
	e := a.env
	e.In, e.Out, e.Err = bytes.NewReader(in), &out, &errs
	e.InTTY, e.OutTTY = false, false
	code := Run(ctx, append([]string{"--book=" + a.book, "--quiet"}, args...), e)
	r := page.Reply{Code: code}
	if code == exitDone {
		r.Doc = out.Bytes()
		return r
	}
	said := bytes.TrimSpace(errs.Bytes())
	if args[0] != "--json" {
		r.Said = page.Refusal{Error: string(said), Exit: code}
		return r
	}
	if i := bytes.LastIndexByte(said, '\n'); i >= 0 {
		said = said[i+1:]
	}
	if err := json.Unmarshal(said, &r.Said); err != nil {
		r.Said = page.Refusal{Error: "the command gave no reason", Exit: code}
	}
	return r
}
