package words

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/bookfile"
	"rindkeep/store/lines"
	"rindkeep/store/refusal"
)

// Figures are a reason's figures for JSON; nil where it has none.
func Figures(r reason.Reason) any {
	if _, flat := r.(reason.Flat); flat {
		return nil
	}
	return r
}

// Refusal is why a request was refused, in a sentence.
func (p Printer) Refusal(r *app.Refusal) string {
	if r.Why == nil {
		return r.Cause.Error()
	}
	s := p.Sentence(r.Why)
	var of refusal.Refused
	if errors.As(r.Cause, &of) && of.Subject != "" {
		s = of.Subject + ": " + s
	}
	if at := new(lines.Error); errors.As(r.Cause, &at) && at.Line > 0 {
		return fmt.Sprintf("line %d: %s", at.Line, s)
	}
	return s
}

// Remedy is what to do about a refusal, "" where there is nothing to say.
func (p Printer) Remedy(r *app.Refusal) string {
	var parts []string
	for _, x := range r.Remedy {
		if s := p.Sentence(x); s != "" {
			parts = append(parts, s)
		}
	}
	if r.Sure {
		parts = append(parts, p.typed("if it is right, repeat with --sure", "if it is right, confirm it"))
	}
	if len(parts) == 0 {
		parts = append(parts, p.usualRemedy(r))
	}
	return strings.ReplaceAll(strings.Join(parts, "; "), "?; ", "? ")
}

// typed is a remedy as a command, or as what to do on the page.
func (p Printer) typed(command, page string) string {
	if p.For == CommandLine {
		return command
	}
	return page
}

// usualRemedy goes with a kind of refusal that says no more itself.
func (p Printer) usualRemedy(r *app.Refusal) string {
	var nf refusal.NotFound
	switch {
	case errors.As(r.Cause, &nf) && len(nf.Near) > 0:
		return "did you mean " + strings.Join(nf.Near, ", ") + "?"
	case errors.Is(r.Cause, bookfile.ErrNoBook):
		return p.typed(fmt.Sprintf("start one with: rindkeep start --book %s   or look around: rindkeep demo", p.Book), "")
	case errors.Is(r.Cause, bookfile.ErrBusy):
		return "try again in a moment"
	case errors.Is(r.Cause, bookfile.ErrNewer):
		return "use the newer rindkeep, or a backup from before"
	case damagedIndex(r.Cause):
		return "the entries are whole as far as this tells; make the indexes again from them" +
			p.typed(": rindkeep book rebuild", "")
	case errors.Is(r.Cause, bookfile.ErrCutOff), errors.Is(r.Cause, bookfile.ErrDamaged):
		return "keep the file, and put the last backup in its place" +
			p.typed(": rindkeep book restore BACKUP --replace; without one, "+
				"rindkeep book salvage NEW saves what can be read", "")
	}
	var be *bookfile.Error
	if errors.As(r.Cause, &be) {
		return machineRemedies[be.Kind]
	}
	return ""
}

// damagedIndex says whether only what follows from the entries is damaged.
func damagedIndex(err error) bool {
	var be *bookfile.Error
	return errors.As(err, &be) && be.Kind == bookfile.ErrDamaged &&
		slices.Contains([]reason.Thing{"index", "standing", "task", "tag", "count", "counts"}, be.At.Thing)
}

// machineRemedies are for trouble that isn't the book's.
var machineRemedies = map[bookfile.Kind]string{
	bookfile.ErrMemory: "the book takes no harm: close other programs, then try again",
	bookfile.ErrDisk: "the disk, its cable or its connection may be failing: copy the book to another disk, " +
		"then check it with rindkeep book check",
	bookfile.ErrInterrupted: "try again",
	bookfile.ErrNoLocks:     "keep the book on a disk of this machine, or turn locks on for that file system",
	bookfile.ErrOpenFiles:   "the book takes no harm: close other programs, then try again",
	bookfile.ErrUnsynced:    "look in rindkeep log before you repeat it",
}
