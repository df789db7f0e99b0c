package console

import (
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/words"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// Meant is something that a person may have meant by a word, and the command that does it. What is
// "" where the command says it.
type Meant struct{ What, Command string }

// tried are words that people try and no command has.
var tried = []struct {
	words string
	meant []Meant
}{
	{"undo revert", []Meant{{"cancel what the last command recorded", "rindkeep strike last --why TEXT"}}},
	{"edit change fix correct", []Meant{
		{"correct what the book says of a make", "rindkeep make correct LOT --why TEXT"},
		{"cancel a wrong entry, then record it again", "rindkeep strike ENTRY --why TEXT"},
		{"change a room", "rindkeep room new ROOM"},
	}},
	{"delete remove del rm cancel", []Meant{
		{"cancel an entry", "rindkeep strike ENTRY --why TEXT"},
		{"remove wheels entered by mistake", "rindkeep wheel void WHAT --why TEXT"},
		{"remove a make entered by mistake", "rindkeep make void LOT --why TEXT"},
	}},
	{"eat eaten ate", []Meant{
		{"a wheel is eaten or thrown out", "rindkeep wheel lost TAG --why eaten"},
		{"a piece was cut off", "rindkeep wheel cut TAG --after WEIGHT"},
	}},
	{"sell sold ship deliver", []Meant{{"wheels left", "rindkeep wheel send WHAT --to NAME"}}},
	{"buy bought receive", []Meant{{"bought-in wheels came", "rindkeep make receive --from SUPPLIER"}}},
	{"print paper pdf", []Meant{
		{"print the day's list", "rindkeep sheet today"},
		{"labels, cards and other sheets", "rindkeep sheet"},
	}},
	{"remind reminder calendar ics", []Meant{
		{"the coming work in your phone's calendar", "rindkeep ahead --ics cave.ics"},
	}},
	{"add new create", []Meant{
		{"cheese you've just made", "rindkeep make new"},
		{"older wheels of your own", "rindkeep make take-over"},
		{"wheels you bought", "rindkeep make receive"},
		{"a room", "rindkeep room new ROOM"},
	}},
	{"list ls wheels", []Meant{{"the wheels", "rindkeep wheel list"}, {"the makes", "rindkeep make list"}}},
	{"next todo jobs", []Meant{
		{"what to do today", "rindkeep today"}, {"the days ahead", "rindkeep ahead"},
	}},
	{"phone web serve browser", []Meant{{"the page for phone and desk", "rindkeep page"}}},
}

// MeantBy is what a word may mean that isn't a command's name.
func MeantBy(root *cobra.Command, word string) []Meant {
	word = strings.ToLower(word)
	if k, err := drying.ParseCoat(word); err == nil {
		return []Meant{{"", "rindkeep coat WHAT " + string(k)}}
	}
	if j, err := wheel.ParseJob(word); err == nil {
		if cmd := words.OwnCommand(j); cmd != "" {
			return []Meant{{"", cmd}}
		}
		return []Meant{{"", "rindkeep did " + string(j) + " WHAT"}}
	}
	for _, t := range tried {
		for w := range strings.FieldsSeq(t.words) {
			if w == word {
				return t.meant
			}
		}
	}
	var out []Meant
	for _, group := range root.Commands() {
		for _, sub := range group.Commands() {
			if sub.Name() != word || !sub.IsAvailableCommand() {
				continue
			}
			m := Meant{"", strings.TrimSuffix(sub.UseLine(), " [flags]")}
			if group.Name() == "wheel" {
				return []Meant{m}
			}
			out = append(out, m)
		}
	}
	return out
}

// Target is the command that a suggestion names.
func (m Meant) Target(root *cobra.Command) (*cobra.Command, error) {
	of, _, err := root.Find(strings.Fields(m.Command)[1:])
	return of, err
}

// String says what the command is for and how it's given.
func (m Meant) String() string {
	if m.What == "" {
		return "give it like: " + m.Command
	}
	return m.What + ": " + m.Command
}

// hintOf gives what was meant as a hint.
func hintOf(ms []Meant) string {
	out := make([]string, len(ms))
	for i, m := range ms {
		out[i] = m.String()
	}
	return strings.Join(out, "; ")
}

// HelpOn prints the help of what a word may mean that isn't a command; false where it means nothing.
func (c *Console) HelpOn(root *cobra.Command, word string) (known bool, err error) {
	ms := MeantBy(root, word)
	switch len(ms) {
	case 0:
		return false, nil
	case 1:
		of, err := ms[0].Target(root)
		if err != nil {
			return true, err
		}
		c.Print("%s\n\n", ms[0])
		return true, of.Help()
	}
	for _, m := range ms {
		c.Print("%s\n", m)
	}
	return true, nil
}

// TriedWords are the words that people try and no command has.
func TriedWords() []string {
	var out []string
	for _, t := range tried {
		out = append(out, strings.Fields(t.words)...)
	}
	return out
}
