package words

import (
	"cmp"
	"fmt"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app/entries"
	"rindkeep/cmd/text"
)

var entriesFlats = map[reason.Flat]string{
	entries.NoName:       "that isn't an entry's code",
	entries.Nothing:      "there is nothing to cancel",
	entries.NoCommandYet: "nothing has been recorded in this book yet",
	entries.IsAStrike:    "that entry is itself a strike, which can't be cancelled",
	entries.RecordAgain:  "record again what it cancelled",
	entries.ByMark:       "cancel the entry by its code, from wheel show",
	entries.WholeDays:    "the log is by whole days: give a date, or the first and the last",
}

// undo is how to undo the commands that write no entry of a wheel.
var undo = map[string]string{
	"rindkeep air log":     "cancel a reading with: rindkeep air strike ROOM TIME --why TEXT",
	"rindkeep make wheels": "wheels entered by mistake: rindkeep wheel void WHAT --why TEXT",
	"rindkeep make new": "a make entered by mistake: rindkeep make void LOT --why TEXT; " +
		"a wrong figure: rindkeep make correct LOT",
	"rindkeep room new":     "to change a room, repeat room new with its name and other figures",
	"rindkeep weigh --from": UndoLoad,
}

// entriesWords has the sentences about the log and about striking.
func entriesWords(p Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case reason.Flat:
		if r == entries.LikeAMark {
			return "name an entry by its wheel and its code, like 261120A-03:9f3c1a" +
				p.typed("; rindkeep wheel show TAG --history 0 shows the codes", ""), true
		}
		s, ok := entriesFlats[r]
		return s, ok
	case entries.NotMany:
		return fmt.Sprintf("%s %d can't be right; give 1 or more, or 0 for all",
			p.typed("--most", "a number of"), r.Most), true
	case entries.SeveralMarked:
		if r.Of == "" {
			return fmt.Sprintf("several entries have the code %s; name the wheel too, like 261120A-03:%s", r.Mark, r.Mark), true
		}
		return fmt.Sprintf("several entries of %s have the code %s; give the ID of the one, from wheel show --json",
			r.Of, r.Mark), true
	case entries.AddedByIt:
		return fmt.Sprintf("it added %s, of which more is recorded since; cancel that first", r.Wheel), true
	case entries.ShowsMarks:
		return p.typed("rindkeep wheel show "+r.Of+" --history 0 shows the code of each entry",
			"the history of "+r.Of+" shows the code of each entry"), true
	case entries.LastBy:
		return fmt.Sprintf("the last command (%s, %s) was by %s", r.Command, p.Instant(r.At), text.Safe(r.By)), true
	case entries.LastWroteNone:
		return fmt.Sprintf("the last command (%s, %s) wrote no entry that can be cancelled", r.Command, p.Instant(r.At)), true
	case entries.LastLongAgo:
		return fmt.Sprintf("the last command that recorded something was some time ago (%s, %s)", r.Command,
			p.Instant(r.At)), true
	case entries.UndoCommand:
		return cmp.Or(undo[r.Command], "cancel earlier entries by their codes, from wheel show"), true
	}
	return "", false
}

// FillLog puts what the entries of a log hold into words.
func (p Printer) FillLog(l *entries.Log) {
	for i, e := range l.Entries {
		l.Entries[i].Detail = p.EntryDetail(e.Of)
	}
}

// EntryLine says what an entry is and holds: "STRUCK weighed 1900 g; mis-keyed".
func (p Printer) EntryLine(e entries.Logged) string {
	s := strings.TrimSpace(e.What + " " + p.EntryDetail(e.Of))
	if e.Note != "" {
		s += "; " + text.Safe(e.Note)
	}
	if e.Struck {
		s = "STRUCK " + s
	}
	return s
}
