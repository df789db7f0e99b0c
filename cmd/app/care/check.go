package care

import (
	"context"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/copies"
)

// Finding is one thing that is wrong with a book.
type Finding struct {
	Where   string `json:"where"` // in words, as What; cmd/words fills them in
	What    string `json:"what"`
	Code    string `json:"code"`
	Index   bool   `json:"index"`   // a rebuild mends it
	History bool   `json:"history"` // it was changed by something other than rindkeep

	Figures bookfile.Finding `json:"-"`
}

// FindingsOf is what was found, for a document.
func FindingsOf(found []bookfile.Finding) []Finding {
	out := make([]Finding, len(found))
	for i, f := range found {
		out[i] = Finding{Code: f.What.Code(), Index: f.Derived, History: f.History, Figures: f}
	}
	return out
}

// Noted is what became of a head that was noted earlier.
type Noted struct {
	Asked string `json:"asked"`
	Held  bool   `json:"held"`
	Link  *Link  `json:"link"`
	After int    `json:"-"` // how many links came after it
}

// Checked is what a check of the book found.
type Checked struct {
	Schema   string    `json:"schema"`
	Sound    bool      `json:"sound"`
	Findings []Finding `json:"findings"`
	Chain    *Chain    `json:"chain"` // null where the findings say why
	Noted    *Noted    `json:"noted"`

	Releasers MayReleaseLine `json:"releasers"` // who may lift safety holds, and who named them
}

// Faults refuses a book that isn't sound.
type Faults struct {
	Count   int  `json:"count"`
	Indexes bool `json:"all_in_indexes"`
}

// NotHeld refuses a book that doesn't hold the history noted as Head.
type NotHeld struct {
	Head string `json:"head"`
}

// AskBackups is the remedy for NotHeld: look for the history in the backups.
type AskBackups NotHeld

func (Faults) Code() string     { return "book-faults" }
func (NotHeld) Code() string    { return "history-not-held" }
func (AskBackups) Code() string { return "ask-the-backups" }

// Check proves the book: every record, every index, the chain of its history, and
// where head isn't "" whether it holds the history noted so. The error says only why
// it couldn't be checked; Fault is what's wrong with the book.
func Check(ctx context.Context, a *app.App, head string, tell store.Progress) (out Checked, err error) {
	out = Checked{Schema: app.Schema("book-check"), Findings: []Finding{}}
	err = opened(a, store.Read, func(b *store.Book) error {
		past, err := copies.CheckHistory(b)
		if err != nil {
			return err
		}
		return onSnapshot(b, func(b *store.Book) error {
			found, err := b.Check(ctx, tell)
			if err != nil {
				return err
			}
			out.Findings = FindingsOf(append(past, found...))
			return b.View(func(t *store.ReadTx) (err error) {
				if out.Releasers, err = releasers(t, b.Zone()); err != nil && len(out.Findings) == 0 {
					return err
				}
				return out.history(t, b, head)
			})
		})
	})
	out.Sound = len(out.Findings) == 0 && (out.Noted == nil || out.Noted.Held)
	return out, err
}

func (c *Checked) history(t *store.ReadTx, b *store.Book, head string) error {
	h, begun, since, err := t.Head()
	if err != nil {
		if len(c.Findings) > 0 {
			return nil // they say so
		}
		return err
	}
	chain := chainOf(h, begun, since, b.Zone())
	c.Chain = &chain
	if head == "" {
		return nil
	}
	c.Noted = &Noted{Asked: head}
	link, ok, err := t.FindLink(head)
	if ok {
		l := linkOf(link, b.Zone())
		c.Noted.Held, c.Noted.Link, c.Noted.After = !c.changed(), &l, h.Number-link.Number
	}
	return err
}

// changed says whether something other than rindkeep changed the book.
func (c *Checked) changed() bool {
	for _, f := range c.Findings {
		if f.History {
			return true
		}
	}
	return false
}

// Fault is what is wrong with the book, nil where it is sound.
func (c *Checked) Fault() error {
	if n := c.Noted; n != nil && n.Link == nil {
		return app.Refuse(NotHeld{n.Asked}, AskBackups{n.Asked})
	}
	f := Faults{Count: len(c.Findings), Indexes: true}
	for _, x := range c.Findings {
		f.Indexes = f.Indexes && x.Index
	}
	remedy := reason.Reason(RestoreLast)
	switch {
	case f.Count == 0:
		return nil
	case f.Indexes:
		remedy = RebuildIndex
	case c.changed():
		remedy = FindWho
	}
	return app.Refuse(f, remedy)
}
