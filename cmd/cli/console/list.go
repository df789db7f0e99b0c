package console

import (
	"strings"

	"github.com/spf13/pflag"
)

// list is a flag's words, with commas between them. A quotation mark is a word's own;
// pflag's lists read it as in a CSV file.
type list struct{ to *[]string }

// ListFlag adds a flag that takes words with commas between them, and may come again.
func ListFlag(f *pflag.FlagSet, to *[]string, name, usage string) { f.Var(list{to}, name, usage) }

// Set implements pflag.Value.
func (l list) Set(s string) error {
	for w := range strings.SplitSeq(s, ",") {
		if w = strings.TrimSpace(w); w != "" {
			*l.to = append(*l.to, w)
		}
	}
	return nil
}

// String implements pflag.Value.
func (l list) String() string {
	if l.to == nil {
		return ""
	}
	return strings.Join(*l.to, ",")
}

// Type implements pflag.Value.
func (list) Type() string { return "words" }
