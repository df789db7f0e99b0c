package words

import (
	"encoding/json"
	"errors"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/text"
	"rindkeep/store/refusal"
)

// Said is a refusal in words. Its JSON is a contract: the command line prints it
// with --json, and the page's API answers with it.
type Said struct {
	Error   string          `json:"error"`
	Where   string          `json:"where"`
	Hint    string          `json:"hint,omitempty"`
	Exit    int             `json:"exit"`
	Sure    bool            `json:"sure,omitempty"` // sent again with sure, it is recorded
	Code    string          `json:"code,omitempty"`
	Figures json.RawMessage `json:"figures,omitempty"`
	Wheels  []string        `json:"wheels,omitempty"` // all that it's about, where they are several
}

// Interrupted is what is said of an act that was stopped, and recorded in part.
const Interrupted = "interrupted"

// Said puts a refusal into words; where is its place as the reader knows it.
func (p Printer) Said(r *app.Refusal, where string) Said {
	if refused := refusal.Of(r.Cause); where == "" && len(refused) > 0 {
		where = refused[0].Subject
	}
	all := refusedWheels(r)
	d := Said{Wheels: all, Error: p.Refusal(r), Where: where, Hint: p.Remedy(r), Exit: r.Kind.Exit(), Sure: r.Sure}
	if len(all) > 1 && all[0] == where {
		d.Error += "; refused too: " + p.Tags(all[1:])
	}
	if r.Kind == app.Interrupted {
		d.Error = Interrupted
		if x := (app.Stopped{}); !errors.As(r.Cause, &x) {
			d.Error += "; nothing was half-saved"
		}
	}
	if r.Why != nil {
		d.Code, d.Figures = r.Why.Code(), figures(r.Why)
	}
	return d.Sanitized()
}

// refusedWheels are the tags, lots and words that a refusal is about; nil where it's
// about one.
func refusedWheels(r *app.Refusal) []string {
	var all []string
	for _, x := range refusal.Of(r.Cause) {
		if !slices.Contains(all, x.Subject) {
			all = append(all, x.Subject)
		}
	}
	if len(r.Also) > 0 {
		all = append([]string{r.At.Of}, r.Also...)
	}
	if len(all) < 2 {
		return nil
	}
	return all
}

// Sanitized is the refusal fit for any terminal.
func (d Said) Sanitized() Said {
	d.Error, d.Hint, d.Where = Sanitize(d.Error), Sanitize(d.Hint), Sanitize(d.Where)
	return d
}

// mostFigures is the most bytes of figures that are printed: what a person typed
// may be among them.
const mostFigures = 1000

func figures(why reason.Reason) json.RawMessage {
	b, err := json.Marshal(Figures(why))
	if s := text.Safe(string(b)); err == nil && len(s) <= mostFigures && s != "null" {
		return json.RawMessage(s)
	}
	return nil
}

// Sanitize makes an error's words fit for a terminal, no matter who wrote them: what a
// person typed may be in them, with anything in it and of any length. A line that
// is too long loses its middle, so that the remedy at its end stays.
func Sanitize(s string) string {
	const most, head, tail = 480, 280, 180
	lines := strings.Split(text.Safe(strings.ToValidUTF8(s, "·")), "\n")
	for i, l := range lines {
		if r := []rune(l); len(r) > most {
			lines[i] = string(r[:head]) + " … " + string(r[len(r)-tail:])
		}
	}
	return strings.Join(lines, "\n")
}
