package words

import (
	"fmt"

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

// The sentences of a day's round.
func init() {
	learn(
		form[round.BadShare]("{Text:%q} is no share: 3 splits the day among three people, 2/3 is the second one's "+
			"part"),
		form[round.OwnCommand]("{Job} has its own command, because it records more than the job being done"),
		say(func(p Printer, r round.LikeOwnCommand) string {
			return p.typed("give it like: "+ownCommands[r.Job], "")
		}),
	)
}
