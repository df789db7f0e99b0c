package words

import (
	"fmt"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// ownCommands record jobs about which more is told than that they were done.
var ownCommands = map[wheel.Job]string{
	wheel.Weigh: "rindkeep weigh TAG WEIGHT",
	wheel.Coat:  "rindkeep coat WHAT KIND",
	wheel.Move:  "rindkeep wheel move WHAT PLACE",
	wheel.Check: "rindkeep check TAG --sound",
}

// OwnCommand is the command that records a job, where one does besides did; else "".
func OwnCommand(j wheel.Job) string { return ownCommands[j] }

// SharedRounds says which wheels' round was recorded before, by whom and when.
func (p Printer) SharedRounds(all []round.Shared) []string {
	var out []string
	for rest := all; len(rest) > 0; {
		first, tags := rest[0], []string{}
		var others []round.Shared
		for _, s := range rest {
			if s.By == first.By && s.At == first.At {
				tags = append(tags, s.Wheel)
			} else {
				others = append(others, s)
			}
		}
		rest = others
		whose := "as"
		if first.By != "" {
			whose = "as " + text.Safe(first.By) + "'s"
		}
		out = append(out, fmt.Sprintf("the same round %s at %s, so it counts once: %s", whose, p.Instant(first.When),
			p.Tags(tags)))
	}
	return out
}

// roundWords has the sentences of a day's round.
func roundWords(p Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case round.BadShare:
		return fmt.Sprintf("%q is no share: 3 splits the day among three people, 2/3 is the second one's part",
			r.Text), true
	case round.OwnCommand:
		return fmt.Sprintf("%s has its own command, because it records more than the job being done", r.Job), true
	case round.LikeOwnCommand:
		return p.typed("give it like: "+ownCommands[r.Job], ""), true
	}
	return "", false
}
