package words

import (
	"fmt"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app/round"
	"rindkeep/wheel"
)

// ownCommands record jobs about which more is told than that they were done.
var ownCommands = map[wheel.Job]string{
	wheel.Weigh: "rindkeep weigh TAG WEIGHT",
	wheel.Coat:  "rindkeep coat WHAT KIND",
	wheel.Move:  "rindkeep wheel move WHAT PLACE",
	wheel.Check: "rindkeep check TAG --dry-to-touch yes",
}

// OwnCommand is the command that records a job, where one does besides did; else "".
func OwnCommand(j wheel.Job) string { return ownCommands[j] }

// roundWords has the sentences of a day's round.
func roundWords(p Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case round.OwnCommand:
		return fmt.Sprintf("%s has its own command, because it records more than the job being done", r.Job), true
	case round.LikeOwnCommand:
		return p.typed("give it like: "+ownCommands[r.Job], ""), true
	}
	return "", false
}
