package cli

import (
	"errors"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

func (a *app) strikeCmd() *cobra.Command {
	var why string
	c := a.cmd("strike ENTRY...", "Withdraw entries: they stay in the book, marked, and count no more", `
rindkeep strike 261120A-03:9f3c1a --why "mis-keyed"      as wheel show marks it
rindkeep strike 261120A:3a1e77 --why "wrong vat"          as make show marks it
rindkeep strike last --why "wrong shelf"                 all that the last command wrote
rindkeep strike 0193a5c0-7b1e-7c3a-9f10-2b7d4e9f3c1a --why "wrong wheel"   an entry, or all that was sent with that --id`, atLeast("ENTRY"), func(cmd *cobra.Command, args []string) error {
		if strings.TrimSpace(why) == "" {
			return usagef("--why is missing: say why the entry is withdrawn")
		}
		return a.update(func(s *session) error { return s.strike(args, why) })
	})
	c.Flags().StringVar(&why, "why", "", "the reason, a `TEXT`")
	return c
}

// entriesNamed finds the entries a word stands for.
func (s *session) entriesNamed(word string) ([]wheel.Entry, error) {
	switch {
	case strings.EqualFold(word, "last"):
		return s.lastEntries()
	case len(word) > 2*maxWord || text.Safe(word) != word:
		return nil, at("ENTRY", fmt.Errorf("that is no entry's name"))
	}
	if id, err := uuid.Parse(word); err == nil {
		e, err := s.tx.EntryByID(id)
		if isNotFound(err) { // the identity a sender gave a whole command
			if es, terr := s.tx.EntriesByCommand(sharedBy(id)); terr != nil || len(es) > 0 {
				return strikeable(es), terr
			}
		}
		return []wheel.Entry{e}, err
	}
	if tag, end, ok := strings.Cut(word, ":"); ok {
		w, err := s.tx.WheelByTag(tag)
		subject := w.ID
		if err != nil {
			m, merr := s.tx.MakeByLot(tag)
			if merr != nil {
				return nil, at(tag, err)
			}
			subject = m.ID
		}
		all, err := s.tx.History(subject)
		if err != nil {
			return nil, err
		}
		var found []wheel.Entry
		for _, e := range all {
			if strings.EqualFold(e.Mark(), end) {
				found = append(found, e)
			}
		}
		switch len(found) {
		case 0:
			return nil, at(word, hint(notFound("entry", word), "rindkeep wheel show %s --history 0 shows each entry's mark", tag))
		case 1:
			return found, nil
		}
		return nil, at(word, fmt.Errorf("%d entries of %s bear the mark %s; name the one by its whole id, from wheel show --json", len(found), tag, end))
	}
	found, err := s.tx.EntriesMarked(word, 2)
	if isNotFound(err) {
		return nil, at(word, hint(notFound("entry", word), "an entry is named by its wheel and its mark, like 261120A-03:9f3c1a; rindkeep wheel show TAG --history 0 shows the marks"))
	}
	if err != nil {
		return nil, at(safeWord(word), err)
	}
	if len(found) > 1 {
		return nil, at(word, fmt.Errorf("more than one entry bears the mark %s; name the wheel too, like 261120A-03:%s", word, word))
	}
	return found, nil
}

// lastEntries are the entries of the last command that wrote to the book. It
// is refused where that was somebody else's command, or one that wrote
// something an entry cannot withdraw.
func (s *session) lastEntries() ([]wheel.Entry, error) {
	last, ok, err := s.tx.LastCommand()
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, errors.New("no command has written to this book yet")
	}
	name := fmt.Sprintf("the last command (%s, %s)", last.Command, last.At.In(s.loc).Format("2006-01-02 15:04"))
	if last.By != s.who {
		return nil, hint(fmt.Errorf("%s was %s's", name, last.By), "strike the entry by its mark, from wheel show")
	}
	es, err := s.tx.EntriesByCommand(last.Batch)
	if err != nil {
		return nil, err
	}
	out := strikeable(es)
	if len(out) == 0 {
		remedy := "earlier entries can be struck by their marks, from wheel show"
		if r, ok := undo[last.Command]; ok {
			remedy = r
		}
		return nil, hint(fmt.Errorf("%s wrote no entry that can be struck", name), "%s", remedy)
	}
	return out, nil
}

// strikeable leaves out the strikes among a command's entries.
func strikeable(es []wheel.Entry) []wheel.Entry {
	var out []wheel.Entry
	for _, e := range es {
		if e.Kind != wheel.Struck {
			out = append(out, e)
		}
	}
	return out
}

// undo is how to take back the commands whose work is no entry of a wheel.
var undo = map[string]string{
	"rindkeep air log":      "a reading is taken back with: rindkeep air strike ROOM TIME --why TEXT",
	"rindkeep make wheels":  "wheels entered by mistake: rindkeep wheel void WHAT --why TEXT",
	"rindkeep make new":     "wheels entered by mistake: rindkeep wheel void WHAT --why TEXT",
	"rindkeep room new":     "room new with the same name and other figures changes the room",
	"rindkeep weigh --from": "strike wrong weights by their marks, from wheel show, or put back the backup from before it",
}

func (s *session) strike(words []string, why string) error {
	var targets []wheel.Entry
	for _, w := range words {
		es, err := s.entriesNamed(w)
		if err != nil {
			return err
		}
		targets = append(targets, es...)
	}
	if len(targets) == 0 {
		return errors.New("nothing to withdraw")
	}
	var strikes []wheel.Entry
	type struckDoc struct {
		Entry string `json:"entry"`
		Of    string `json:"of"`
		What  string `json:"what"`
		At    string `json:"at"`
	}
	docs := []struckDoc{}
	for _, e := range targets {
		if e.Kind == wheel.Struck {
			return at(e.Mark(), hint(errors.New("that entry is itself a strike"), "record what was withdrawn again"))
		}
		strikes = append(strikes, s.entry(wheel.Entry{Subject: e.Subject, Kind: wheel.Struck, At: s.now, Target: e.ID, Note: why}))
		docs = append(docs, struckDoc{e.ID.String(), s.subjectName(e.Subject), e.Word(), instant(e.At, s.loc)})
	}
	if _, err := s.write.Put(strikes...); err != nil {
		return err
	}
	if s.json {
		return s.document(struct {
			Schema string      `json:"schema"`
			Struck []struckDoc `json:"struck"`
		}{schema("strike"), docs})
	}
	for i, e := range targets {
		if i == 20 {
			s.print("… and %d more\n", len(targets)-i)
			break
		}
		what := strings.TrimSpace(e.Word() + " " + s.detail(e))
		s.print("struck: %s %s, %s\n", docs[i].Of, what, e.At.In(s.loc).Format("2006-01-02 15:04"))
	}
	return nil
}
