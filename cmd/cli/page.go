package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	network "net"
	"net/http"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/page"
	"rindkeep/store"
)

func (a *app) pageCmd() *cobra.Command {
	var listen string
	c := a.nowCmd("page", "Serve the page for phone and desk", `
rindkeep page                          on this machine alone: http://localhost:4870`, none, func(cmd *cobra.Command, _ []string) error {
		s, err := page.New(page.Options{Run: a.asked, Raw: a.printed, Rev: func() (uint64, error) { return store.Revision(a.book) }, Now: a.env.Now, Log: a.log, Version: Version})
		if err != nil {
			return err
		}
		l, err := network.Listen("tcp", listen)
		if err != nil {
			return err
		}
		a.note("the page is at http://%s", l.Addr())
		h := &http.Server{Handler: s.Handler()}
		go func() {
			<-a.ctx.Done()
			_ = h.Close()
		}()
		if err := h.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			return err
		}
		return nil
	})
	c.Flags().StringVar(&listen, "listen", "localhost:4870", "`ADDR` to listen on")
	return c
}

// asked runs a command of the program for the page, on the same book.
func (a *app) asked(ctx context.Context, args []string) page.Reply {
	return a.ranFor(ctx, append([]string{"--json"}, args...))
}

// printed runs a command whose standard output is no JSON: a picture, a table,
// a sheet.
func (a *app) printed(ctx context.Context, args []string) page.Reply {
	r := a.ranFor(ctx, args)
	if r.Code != exitDone {
		// Said in text; the same words as the document's.
		said, hint, _ := strings.Cut(r.Said.Error, "\nhint: ")
		r.Said.Error, r.Said.Hint = strings.TrimPrefix(said, "rindkeep: "), hint
	}
	return r
}

func (a *app) ranFor(ctx context.Context, args []string) page.Reply {
	var out, errs bytes.Buffer
	e := a.env
	e.In, e.Out, e.Err = strings.NewReader(""), &out, &errs
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
