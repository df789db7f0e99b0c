package words

import (
	"cmp"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app/entries"
	"rindkeep/cmd/text"
)

func init() {
	flats(map[reason.Flat]string{
		entries.NoName:       "that isn't an entry's code",
		entries.Nothing:      "there is nothing to cancel",
		entries.NoCommandYet: "nothing has been recorded in this book yet",
		entries.IsAStrike:    "that entry is itself a strike, which can't be cancelled",
		entries.RecordAgain:  "record again what it cancelled",
		entries.ByMark:       "cancel the entry by its code, from wheel show",
		entries.WholeDays:    "the log is by whole days: give a date, or the first and the last",

		entries.LikeAMark: "name an entry by its wheel and its code, like 261120A-03:9f3c1a[; rindkeep wheel show " +
			"TAG --history 0 shows the codes]",
	})
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

// The sentences about the log and about striking.
func init() {
	learn(
		form[entries.NotMany]("[--most|a number of] {Most} can't be right; give 1 or more, or 0 for all"),
		form[entries.SeveralMarked]("several entries of {Of} have the code {Mark}; give the ID of the one, from wheel show "+
			"--json").without("Of", "several entries have the code {Mark}; name the wheel too, like 261120A-03:{Mark}"),
		form[entries.AddedByIt]("it added {Wheel}, of which more is recorded since; cancel that first"),
		form[entries.ShowsMarks]("[rindkeep wheel show {Of} --history 0 shows the code of each entry|the history "+
			"of {Of} shows the code of each entry]"),
		form[entries.LastBy]("the last command ({Command}, {At:instant}) was by {By}"),
		form[entries.LastWroteNone]("the last command ({Command}, {At:instant}) wrote no entry that can be "+
			"cancelled"),
		form[entries.LastLongAgo]("the last command that recorded something was some time ago ({Command}, "+
			"{At:instant})"),
		say(func(_ Printer, r entries.UndoCommand) string {
			return cmp.Or(undo[r.Command], "cancel earlier entries by their codes, from wheel show")
		}),
	)
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
