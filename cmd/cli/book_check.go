package cli

import (
	"encoding/hex"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cmd/text"
	"rindkeep/store"
)

// chainDoc is what documents say of the chain of a book's history.
type chainDoc struct {
	Head  headDoc `json:"head"`
	Since string  `json:"history_since"`
	Begun string  `json:"history_begun"` // new, upgrade, import, unfitted
}

// headDoc is one link of the chain.
type headDoc struct {
	Hash    string `json:"hash"`
	Short   string `json:"short"`
	Link    int    `json:"link"`
	Written string `json:"written"`
}

func headDocOf(h store.Head, loc *time.Location) headDoc {
	return headDoc{hex.EncodeToString(h.Hash[:]), h.Short(), h.Number, instant(h.Written, loc)}
}

func chainDocOf(h store.Head, b store.Beginning, since time.Time, loc *time.Location) chainDoc {
	return chainDoc{headDocOf(h, loc), instant(since, loc), string(b)}
}

func headWords(h store.Head, loc *time.Location) string {
	return fmt.Sprintf("%s, link %d, written %s", h.Short(), h.Number, h.Written.In(loc).Format("2006-01-02 15:04"))
}

// sinceWords says from when on the chain proves the history.
func sinceWords(b store.Beginning, since time.Time, loc *time.Location) string {
	s := "chained since " + since.In(loc).Format("2006-01-02 15:04") + ", "
	switch b {
	case store.BegunNew:
		return s + "when the book was begun"
	case store.BegunUpgrade:
		return s + "when the book was upgraded: what is older was taken as it stood then"
	case store.BegunUnfitted:
		return s + "when it was imported: the history in that file did not fit its records"
	}
	return s + "when it was imported from a file without its history"
}

// noted is what became of --head.
type noted struct {
	Asked string   `json:"asked"`
	Held  bool     `json:"held"`
	Link  *headDoc `json:"link"`
	words string
	after int
}

func (a *app) bookCheckCmd() *cobra.Command {
	var head string
	c := a.nowCmd("check", "Prove the book whole, its indexes true to its entries, its history as it was written", `
rindkeep book check
rindkeep book check --head 9f86-d081-884c-7d65     does it still hold the history noted so?`, none, func(cmd *cobra.Command, _ []string) error {
		digits := ""
		if cmd.Flags().Changed("head") {
			var err error
			if digits, err = store.ParseHead(head); err != nil {
				return usagef("--head: %v", err)
			}
		}
		return a.opened(store.Read, func(b *store.Book) error { return a.check(b, digits) })
	})
	c.Long = c.Short + `.

Everything written to the book is linked into a chain of hashes, each over what
was written and the link before. A record that was changed, removed, put in or
moved to another time by other means than this program is named. The last link,
the head, stands for the whole history: note it in a notebook, or send it to
whoever is to be sure later, and ask with --head whether the book still holds
that history.

What it cannot show: whoever can write the file can also write all of it anew,
the chain with it, or put an older copy in its place. Only a head that was noted
somewhere else shows that.`
	c.Flags().StringVar(&head, "head", "", "the `HASH` of a head noted earlier: its first 16 digits, or more")
	return c
}

func (a *app) check(b *store.Book, digits string) error {
	found, err := b.Check(a.ctx, a.progress("checked"))
	if err != nil {
		return err
	}
	type findingDoc struct {
		Where   string `json:"where"`
		What    string `json:"what"`
		Index   bool   `json:"index"`
		History bool   `json:"history"`
	}
	docs := []findingDoc{}
	mendable, history := true, false
	for _, f := range found {
		docs = append(docs, findingDoc{f.Where, f.What, f.Derived, f.History})
		mendable = mendable && f.Derived
		history = history || f.History
	}
	var chain *chainDoc
	var n *noted
	words := ""
	if err := b.View(func(t *store.ReadTx) error {
		h, begun, since, err := t.Head()
		if err != nil {
			if len(found) > 0 {
				return nil // told already
			}
			return err
		}
		d := chainDocOf(h, begun, since, b.Zone())
		chain = &d
		words = headWords(h, b.Zone()) + "; " + sinceWords(begun, since, b.Zone())
		if digits == "" {
			return nil
		}
		n = &noted{Asked: digits}
		link, ok, err := t.FindLink(digits)
		if ok {
			doc := headDocOf(link, b.Zone())
			n.Held, n.Link, n.words, n.after = !history, &doc, fmt.Sprintf("link %d, written %s", link.Number, link.Written.In(b.Zone()).Format("2006-01-02 15:04")), h.Number-link.Number
		}
		return err
	}); err != nil {
		return err
	}
	sound := len(found) == 0 && (n == nil || n.Held)
	if a.json {
		if err := a.document(struct {
			Schema   string       `json:"schema"`
			Sound    bool         `json:"sound"`
			Findings []findingDoc `json:"findings"`
			Chain    *chainDoc    `json:"chain"`
			Noted    *noted       `json:"noted"`
		}{schema("book-check"), sound, docs, chain, n}); err != nil {
			return err
		}
		if !sound {
			return silent{Code: exitRefused}
		}
		return nil
	}
	for _, f := range found {
		a.print("%s\n", text.Safe(f.String()))
	}
	if len(found) == 0 {
		a.print("the book is sound: every record reads, every index agrees with the entries\n")
		a.lines(text.Wrap("the history is as it was written: head "+words, a.env.Columns()))
	}
	if n != nil && n.Link != nil {
		after := "it is the head"
		if n.after > 0 {
			after = text.Count(n.after, "link") + " came after it"
		}
		a.lines(text.Wrap(fmt.Sprintf("the head noted is %s: %s", n.words, after), a.env.Columns()))
	}
	const restore = "put the last backup in its place: rindkeep book restore BACKUP --replace"
	faults := fmt.Errorf("the check found %s", text.Count(len(found), "fault"))
	switch {
	case n != nil && n.Link == nil:
		return hint(fmt.Errorf("this book does not hold the history noted as %s: it is an older copy or another book, or its history was written anew", digits), "keep this file, and ask its backups: rindkeep book check --book BACKUP --head %s", digits)
	case len(found) == 0:
		return nil
	case mendable:
		return hint(fmt.Errorf("%w, all in indexes", faults), "rindkeep book rebuild makes the indexes anew from the entries")
	case history:
		return hint(faults, "keep this file and find out who changed it; to go back, "+restore)
	}
	return hint(faults, "keep this file, and "+restore)
}
