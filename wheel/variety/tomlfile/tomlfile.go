// Package tomlfile reads the small TOML files a maker keeps by hand, a rind
// plan or a variety, and says what is wrong with one in a single sentence that
// names the file, the line and the reason.
//
// It is stricter than TOML: a key must be spelt exactly as the Schema has it
// (the strict mode of the TOML library would let "JOB" pass for "job"), a file
// is at most MaxSize long, and no text may hold a control character or one
// that turns the direction of writing. It knows nothing of cheese: what the
// keys mean is for the caller.
package tomlfile

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// MaxSize is the most bytes a file may have.
const MaxSize = 64 * 1024

// Error is a fault in one file. Line counts from 1; 0 means the file as a
// whole.
type Error struct {
	File   string
	Line   int
	Reason string
}

// Error gives the sentence: `gouda.toml line 7: ph 9 is over 7; give 4 to 7`.
func (e *Error) Error() string {
	if e.Line == 0 {
		return e.File + ": " + e.Reason
	}
	return fmt.Sprintf("%s line %d: %s", e.File, e.Line, e.Reason)
}

// Schema is what a file may hold: the keys at its top, and per table the keys
// of that table. A name in Lists is a table that may be repeated, written
// [[name]].
type Schema struct {
	Keys   []string
	Tables map[string][]string
	Lists  map[string][]string
}

// Doc is a file that is sound TOML and holds nothing the schema does not name.
// It keeps the first fault found while values are read from it.
type Doc struct {
	file  string
	lines map[string]int
	root  map[string]any
	err   *Error
}

// Section is one table of a Doc, or its top. Its reading methods give the zero
// value for a key that is not there, and after a fault go on quietly: ask Err
// of the Doc at the end.
type Section struct {
	doc  *Doc
	path string
	m    map[string]any
	// Line is where the table starts; 0 for the top of the file.
	Line int
}

// Clean takes the byte order mark off the front of a file's bytes.
func Clean(data []byte) []byte { return bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")) }

// Parse reads a file's bytes. The name is the one errors give. A returned error
// is always an *Error.
func Parse(file string, data []byte, s Schema) (*Doc, error) {
	d := &Doc{file: Name(file), lines: map[string]int{}}
	data = Clean(data)
	if len(data) > MaxSize {
		return nil, &Error{d.file, 0, fmt.Sprintf("the file has %d bytes; at most %d are read", len(data), MaxSize)}
	}
	if err := d.checkBytes(data); err != nil {
		return nil, err
	}
	if err := toml.Unmarshal(data, &d.root); err != nil {
		fault := &Error{File: d.file, Reason: "not TOML: " + cut(visible(strings.TrimPrefix(err.Error(), "toml: ")), 160)}
		var de *toml.DecodeError
		if errors.As(err, &de) {
			fault.Line, _ = de.Position()
		}
		return nil, fault
	}
	if err := d.walk(data, s); err != nil {
		return nil, err
	}
	return d, nil
}

// Name makes a file's name fit to print: the last part of its path, what does
// not print shown as "?", and no longer than 80 characters.
func Name(file string) string {
	if i := strings.LastIndexAny(file, `/\`); i >= 0 {
		file = file[i+1:]
	}
	if file == "" {
		return "the file"
	}
	return cut(visible(file), 80)
}

// cut shortens s to at most n characters.
func cut(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

// visible replaces what would not print.
func visible(s string) string {
	return strings.Map(func(r rune) rune {
		if r == utf8.RuneError || !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, s)
}

// hidden says whether r would act on a terminal or a page rather than show:
// controls, line and paragraph separators, and the marks that turn the
// direction of writing or take no room.
func hidden(r rune) bool {
	return unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Co)
}

func (d *Doc) checkBytes(data []byte) error {
	line := 1
	for i := 0; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		switch {
		case r == utf8.RuneError && n <= 1:
			return &Error{d.file, line, fmt.Sprintf("byte 0x%02x is no UTF-8; save the file as UTF-8", data[i])}
		case r == '\n':
			line++
		case r == '\t', r == '\r' && i+1 < len(data) && data[i+1] == '\n':
		case hidden(r):
			return &Error{d.file, line, fmt.Sprintf("character U+%04X does not show; take it out", r)}
		}
		i += n
	}
	return nil
}

const sep = "\x00"

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + sep + key
}

func item(list string, i int) string { return list + sep + strconv.Itoa(i) }

// walk goes through the file in order, notes the line of every key and refuses
// the first that the schema does not name.
func (d *Doc) walk(data []byte, s Schema) error {
	var p unstable.Parser
	p.Reset(data)
	offset, line := 0, 1
	at := func(r unstable.Range) int {
		// Keys come in order, so lines are counted once over the file.
		if o := int(r.Offset); o > offset {
			line += bytes.Count(data[offset:o], []byte{'\n'})
			offset = o
		}
		return line
	}
	count := map[string]int{}
	var table []string // schema path of the open table: none, name, or list name and index
	isList := func(k string) bool { _, ok := s.Lists[k]; return ok }
	isTable := func(k string) bool { _, ok := s.Tables[k]; return ok }

	var put func(parent []string, n *unstable.Node) error
	put = func(parent []string, n *unstable.Node) error {
		path := slices.Clone(parent)
		for it := n.Key(); it.Next(); {
			path = append(path, string(it.Node().Data))
			l := at(it.Node().Raw)
			if err := d.allowed(path, l, s); err != nil {
				return err
			}
			if j := strings.Join(path, sep); d.lines[j] == 0 {
				d.lines[j] = l
			}
		}
		v := n.Value()
		switch {
		case v.Kind == unstable.InlineTable && len(path) == 1 && isTable(path[0]):
			for it := v.Children(); it.Next(); {
				if err := put(path, it.Node()); err != nil {
					return err
				}
			}
		case v.Kind == unstable.Array && len(path) == 1 && isList(path[0]):
			i := 0
			for it := v.Children(); it.Next(); i++ {
				if it.Node().Kind != unstable.InlineTable {
					continue
				}
				in := append(slices.Clone(path), strconv.Itoa(i))
				d.lines[strings.Join(in, sep)] = line
				for sub := it.Node().Children(); sub.Next(); {
					if err := put(in, sub.Node()); err != nil {
						return err
					}
				}
			}
		}
		return nil
	}

	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			var keys []string
			l := line
			for it := e.Key(); it.Next(); {
				keys = append(keys, string(it.Node().Data))
				l = at(it.Node().Raw)
			}
			k := keys[0]
			switch {
			case !isList(k) && !isTable(k):
				if slices.Contains(s.Keys, k) {
					return &Error{d.file, l, fmt.Sprintf("%s is a plain key, not a table; write %s = ... above the first table", k, k)}
				}
				return &Error{d.file, l, fmt.Sprintf("no table %s; %s", Quote(k), suggest(k, s.tableNames(), "tables are"))}
			case len(keys) > 1:
				return &Error{d.file, l, fmt.Sprintf("no table %s inside %s", Quote(strings.Join(keys[1:], ".")), k)}
			case isList(k) && e.Kind == unstable.Table:
				return &Error{d.file, l, fmt.Sprintf("[%s] has one bracket too few; write [[%s]]", k, k)}
			case isTable(k) && e.Kind == unstable.ArrayTable:
				return &Error{d.file, l, fmt.Sprintf("[[%s]] has one bracket too many; write [%s]", k, k)}
			case isList(k):
				table = []string{k, strconv.Itoa(count[k])}
				count[k]++
			default:
				table = []string{k}
			}
			d.lines[strings.Join(table, sep)] = l
		case unstable.KeyValue:
			if err := put(table, e); err != nil {
				return err
			}
		}
	}
	if err := p.Error(); err != nil {
		return &Error{d.file, line, "not TOML: " + cut(visible(err.Error()), 160)}
	}
	return d.kinds(s)
}

func (s Schema) tableNames() []string {
	var out []string
	for k := range s.Tables {
		out = append(out, "["+k+"]")
	}
	for k := range s.Lists {
		out = append(out, "[["+k+"]]")
	}
	slices.Sort(out)
	return out
}

// allowed refuses a path whose last part the schema does not name.
func (d *Doc) allowed(path []string, line int, s Schema) error {
	k := path[len(path)-1]
	table, isTable := s.Tables[path[0]]
	list, isList := s.Lists[path[0]]
	var where string
	var keys []string
	switch {
	case len(path) == 1 && (isTable || isList):
		return nil
	case len(path) == 1:
		where, keys = "at the top of the file", s.Keys
	case len(path) == 2 && isTable:
		where, keys = "in ["+path[0]+"]", table
	case len(path) == 2 && isList:
		return &Error{d.file, line, listNotTable(path[0])}
	case len(path) == 3 && isList:
		where, keys = "in [["+path[0]+"]]", list
	default:
		return &Error{d.file, line, fmt.Sprintf("no key %s inside %s", Quote(k), path[len(path)-2])}
	}
	if slices.Contains(keys, k) {
		return nil
	}
	return &Error{d.file, line, fmt.Sprintf("no key %s %s; %s", Quote(k), where, suggest(k, keys, "keys are"))}
}

func listNotTable(k string) string {
	return fmt.Sprintf("%s is a list of tables; write [[%s]] and its keys below", k, k)
}

func suggest(word string, words []string, list string) string {
	if w := Nearest(word, words); w != "" {
		return fmt.Sprintf("did you mean %q?", w)
	}
	return list + " " + strings.Join(words, ", ")
}

// kinds refuses a table or list that is written as something else.
func (d *Doc) kinds(s Schema) error {
	for k := range s.Tables {
		if v, ok := d.root[k]; ok {
			if _, ok := v.(map[string]any); !ok {
				return &Error{d.file, d.lines[k], fmt.Sprintf("%s is a table; write [%s] and its keys below", k, k)}
			}
		}
	}
	for k := range s.Lists {
		v, ok := d.root[k]
		if !ok {
			continue
		}
		l, ok := v.([]any)
		for _, x := range l {
			if _, table := x.(map[string]any); !table {
				ok = false
			}
		}
		if !ok {
			return &Error{d.file, d.lines[k], listNotTable(k)}
		}
	}
	return nil
}

// Err gives the first fault found while reading values, or nil.
func (d *Doc) Err() error {
	if d.err == nil {
		return nil
	}
	return d.err
}

// Top is the part of the file above its first table.
func (d *Doc) Top() Section { return Section{doc: d, m: d.root} }

// Table gives the table of that name and whether the file has it.
func (d *Doc) Table(name string) (Section, bool) {
	m, ok := d.root[name].(map[string]any)
	return Section{doc: d, path: name, m: m, Line: d.lines[name]}, ok
}

// List gives the repeated tables of that name in the file's order.
func (d *Doc) List(name string) []Section {
	l, _ := d.root[name].([]any)
	out := make([]Section, len(l))
	for i, v := range l {
		m, _ := v.(map[string]any)
		out[i] = Section{doc: d, path: item(name, i), m: m, Line: d.lines[item(name, i)]}
	}
	return out
}

// Has says whether the key is written.
func (s Section) Has(key string) bool { _, ok := s.m[key]; return ok }

// IsList says whether the key holds a list.
func (s Section) IsList(key string) bool { _, ok := s.m[key].([]any); return ok }

// LineOf is the line of a key, or of the section when the key is not written.
func (s Section) LineOf(key string) int {
	if l := s.doc.lines[join(s.path, key)]; l != 0 {
		return l
	}
	return s.Line
}

// Fail records a fault at the key's line, unless there is one already.
func (s Section) Fail(key, format string, args ...any) {
	if s.doc.err == nil {
		s.doc.err = &Error{s.doc.file, s.LineOf(key), fmt.Sprintf(format, args...)}
	}
}

// Shown is the key's value as a person wrote it, for an error.
func (s Section) Shown(key string) string { return show(s.m[key]) }

func show(v any) string {
	switch v := v.(type) {
	case string:
		return Quote(v)
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case bool:
		return strconv.FormatBool(v)
	case []any:
		return "list"
	case map[string]any:
		return "table"
	}
	return visible(fmt.Sprint(v))
}

// Quote puts text in quotes, with what does not show written out, cut to 40
// characters.
func Quote(s string) string {
	return strconv.Quote(cut(s, 40))
}

// Text reads a text of at most max characters, which must be one line of
// characters that show.
func (s Section) Text(key string, max int) string {
	v, ok := s.m[key]
	if !ok {
		return ""
	}
	t, ok := v.(string)
	switch {
	case !ok:
		s.Fail(key, "%s must be text in quotes, not %s", key, show(v))
		return ""
	case strings.ContainsFunc(t, hidden):
		s.Fail(key, "%s holds a character that does not show; keep it to one plain line", key)
		return ""
	case utf8.RuneCountInString(t) > max:
		s.Fail(key, "%s is %d characters long; keep it to %d", key, utf8.RuneCountInString(t), max)
		return ""
	}
	return strings.TrimSpace(t)
}

// Required is Text that must be there and not be empty.
func (s Section) Required(key string, max int) string {
	t := s.Text(key, max)
	if t == "" {
		s.Fail(key, "%s is missing; give it", key)
	}
	return t
}

// Texts reads a list of texts, each as Text has it.
func (s Section) Texts(key string, max int) []string {
	v, ok := s.m[key]
	if !ok {
		return nil
	}
	l, ok := v.([]any)
	if !ok {
		s.Fail(key, "%s must be a list of texts, not %s", key, show(v))
		return nil
	}
	var out []string
	for _, x := range l {
		one := Section{doc: s.doc, path: s.path, m: map[string]any{key: x}, Line: s.Line}
		out = append(out, one.Text(key, max))
	}
	return out
}

// Int reads a whole number from lo to hi; unit is said behind the bounds.
func (s Section) Int(key string, lo, hi int, unit string) int {
	v, ok := s.m[key]
	if !ok {
		return 0
	}
	return s.whole(key, v, lo, hi, unit)
}

func (s Section) whole(key string, v any, lo, hi int, unit string) int {
	n, ok := v.(int64)
	if !ok || n < int64(lo) || n > int64(hi) {
		s.Fail(key, "%s %s is out of range; give a whole number from %d to %d%s", key, show(v), lo, hi, space(unit))
		return 0
	}
	return int(n)
}

// Ints reads a list of 1 to most whole numbers from lo to hi.
func (s Section) Ints(key string, most, lo, hi int, unit string) []int {
	v, ok := s.m[key]
	if !ok {
		return nil
	}
	l, ok := v.([]any)
	if !ok || len(l) == 0 || len(l) > most {
		s.Fail(key, "%s must be a list of 1 to %d whole numbers, like [60, 120]", key, most)
		return nil
	}
	out := make([]int, len(l))
	for i, x := range l {
		out[i] = s.whole(key, x, lo, hi, unit)
	}
	return out
}

// Number reads a bare number from lo to hi.
func (s Section) Number(key string, lo, hi float64, unit string) float64 {
	v, ok := s.m[key]
	if !ok {
		return 0
	}
	x, ok := Float(v)
	if !ok || !(x >= lo && x <= hi) {
		s.Fail(key, "%s %s is out of range; give a number from %g to %g%s", key, show(v), lo, hi, space(unit))
		return 0
	}
	return x
}

// Float turns a TOML number into a float64; ok is false for anything else and
// for what is not finite.
func Float(v any) (x float64, ok bool) {
	switch v := v.(type) {
	case int64:
		return float64(v), true
	case float64:
		return v, !math.IsNaN(v) && !math.IsInf(v, 0)
	}
	return 0, false
}

// Measure gives a value with its unit as text, "38%" or "2kg"; a bare number is
// given as its digits, for the unit's own parser to read. ok is false when the
// key is not there or is neither.
func (s Section) Measure(key string) (text string, ok bool) {
	v, ok := s.m[key]
	if !ok {
		return "", false
	}
	if t, ok := v.(string); ok {
		return t, true
	}
	x, ok := Float(v)
	if !ok {
		s.Fail(key, "%s must be a number or text with its unit, not %s", key, show(v))
		return "", false
	}
	return strconv.FormatFloat(x, 'f', -1, 64), true
}

func space(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}

// CheckName refuses a name of a plan or variety that is not 2 to 40 of a-z, 0-9
// and dashes, starting and ending with a letter or digit. An empty return is
// a good name; otherwise it is the reason.
func CheckName(name string) (reason string) {
	bad := len(name) < 2 || len(name) > 40 || name[0] == '-' || name[len(name)-1] == '-'
	for _, r := range name {
		if !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-') {
			bad = true
		}
	}
	if bad {
		return fmt.Sprintf("name %s is not 2 to 40 of a-z, 0-9 and dashes; write it like waxed-hard", Quote(name))
	}
	return ""
}

// Nearest gives the one of words that is close enough to word to have been
// meant, or "". Brackets and case do not count.
func Nearest(word string, words []string) string {
	plain := func(s string) string { return strings.ToLower(strings.Trim(s, "[] ")) }
	w, best, found := plain(word), 0, ""
	if w == "" || len(w) > 40 {
		return ""
	}
	for _, c := range words {
		n := distance(w, plain(c))
		if n <= max(1, len(plain(c))/3) && (found == "" || n < best) {
			best, found = n, c
		}
	}
	return found
}

// distance counts the letters to put in, take out, change or swap with the
// next one to make b of a (optimal string alignment).
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	d := make([][]int, len(x)+1)
	for i := range d {
		d[i] = make([]int, len(y)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(x)][len(y)]
}
