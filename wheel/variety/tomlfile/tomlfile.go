// Package tomlfile reads the small TOML files a maker keeps by hand: rind plans,
// varieties and rules of food law. A file is decoded into a struct whose tags say
// what it may have: toml the key, need that it has to be there, max the most
// characters of a text, items the most items of a list, one that it may be one
// figure instead, range the bounds of a figure and its unit. Anything else is a
// Fault with its line and key. What the keys mean is for the caller.
//
// The strict mode of go-toml would take "JOB" for "job" and forgets the lines.
package tomlfile

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// MaxSize is the most bytes a file may have.
const MaxSize = 64 * 1024

// File is a file that was decoded. It keeps the first fault found in it.
type File struct {
	name    string
	lines   map[string]int // of every key, table and item of a list of tables by its path
	unknown *Fault         // the first key that it may not have
	fault   *Fault
}

// Section is one table of a File, for what its values mean together.
type Section struct {
	file *File
	at   string
}

// Clean takes the byte order mark off the front of a file's bytes.
func Clean(data []byte) []byte { return bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")) }

// Decode reads a file's bytes into the struct that into points to. Name is the
// file's, for errors, which are always a Fault.
func Decode(name string, data []byte, into any) (*File, error) {
	f := &File{name: Name(name)}
	data = Clean(data)
	if len(data) > MaxSize {
		return nil, Fault{f.name, 0, "", reason.TooLong{What: "file", Has: len(data), Most: MaxSize}}
	}
	if i := bytes.IndexFunc(data, func(r rune) bool { return !strings.ContainsRune("\n\r\t", r) && hidden(r) }); i >= 0 {
		r, _ := utf8.DecodeRune(data[i:])
		return nil, Fault{f.name, 1 + bytes.Count(data[:i], []byte{'\n'}), "", Hidden{r}}
	}
	values := map[string]any{}
	if err := toml.Unmarshal(data, &values); err != nil {
		line := 0
		var de *toml.DecodeError
		if errors.As(err, &de) {
			line, _ = de.Position()
		}
		return nil, Fault{f.name, line, "", NotTOML{cut(visible(strings.TrimPrefix(err.Error(), "toml: ")), 160)}}
	}
	f.lines = linesOf(data)
	f.table("", values, reflect.ValueOf(into).Elem())
	return f, f.Err()
}

// Err gives the first key the file may not have, or else the first other fault, or
// nil.
func (f *File) Err() error {
	if fault := cmp.Or(f.unknown, f.fault); fault != nil {
		return *fault
	}
	return nil
}

// Name makes a file's name fit to print: the last part of its path, what does not
// print shown as "?", and no longer than 80 characters.
func Name(file string) string {
	return cut(visible(file[strings.LastIndexAny(file, `/\`)+1:]), 80)
}

func cut(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

func visible(s string) string {
	return strings.Map(func(r rune) rune {
		if r == utf8.RuneError || !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, s)
}

// hidden says whether r would act on a terminal or a page rather than show:
// controls, line and paragraph separators, and the marks that turn the direction
// of writing or take no room.
func hidden(r rune) bool {
	return unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Co)
}

const (
	sep   = "\x00"
	depth = 4 // of a path: no file goes deeper than a key of a table in a list
)

// path joins keys and places in lists, as the keys of File.lines are.
func path(parts ...any) string {
	var b strings.Builder
	for _, p := range parts {
		fmt.Fprint(&b, sep, p)
	}
	return b.String()
}

// linesOf finds the line of every key and table, inline ones too.
func linesOf(data []byte) map[string]int {
	lines, count := map[string]int{}, map[string]int{}
	var p unstable.Parser
	p.Reset(data)
	offset, line := 0, 1 // keys come in order, so lines are counted once
	note := func(at string, keys unstable.Iterator) string {
		for keys.Next() && strings.Count(at, sep) < depth {
			next := max(offset, int(keys.Node().Raw.Offset))
			line += bytes.Count(data[offset:next], []byte{'\n'})
			offset = next
			if n := count[at]; n > 0 { // a table inside the last of a list
				at += path(n - 1)
			}
			if at += path(string(keys.Node().Data)); lines[at] == 0 {
				lines[at] = line
			}
		}
		return at
	}
	var walk func(at string, n *unstable.Node)
	walk = func(at string, n *unstable.Node) {
		if n.Kind == unstable.KeyValue {
			at, n = note(at, n.Key()), n.Value()
		}
		if n.Kind != unstable.InlineTable && n.Kind != unstable.Array || strings.Count(at, sep) >= depth {
			return
		}
		for i, it := 0, n.Children(); it.Next(); i++ {
			in := at
			if n.Kind == unstable.Array {
				in += path(i)
			}
			if it.Node().Kind == unstable.InlineTable {
				lines[in] = line
			}
			walk(in, it.Node())
		}
	}
	table := ""
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.KeyValue:
			walk(table, e)
		case unstable.Table:
			table = note("", e.Key())
		case unstable.ArrayTable:
			list := note("", e.Key())
			table = list + path(count[list])
			lines[table] = line
			count[list]++
		}
	}
	return lines
}

// line is that of a path, or of the nearest table around it that has one.
func (f *File) line(at string) int {
	for f.lines[at] == 0 && at != "" {
		at = at[:strings.LastIndex(at, sep)]
	}
	return f.lines[at]
}

func (f *File) fail(at string, why reason.Reason) {
	if f.fault == nil {
		key := strings.TrimRight(at, sep+"0123456789") // without places in a list
		f.fault = &Fault{f.name, f.line(at), key[strings.LastIndex(key, sep)+1:], why}
	}
}

// table reads a table into a struct.
func (f *File) table(at string, values map[string]any, into reflect.Value) {
	var keys []string
	for _, field := range reflect.VisibleFields(into.Type()) {
		key := field.Tag.Get("toml")
		if key == "" {
			continue
		}
		keys = append(keys, key)
		if v, ok := values[key]; ok {
			f.value(at+path(key), v, into.FieldByIndex(field.Index), field.Tag)
		} else if field.Tag.Get("need") != "" {
			f.fail(at+path(key), reason.Missing{What: reason.Thing(key)})
		}
	}
	for key := range values {
		why := reason.Unknown{What: "key", Word: cut(key, 40), Known: strings.Join(keys, ", ")}
		fault := &Fault{f.name, f.line(at + path(key)), why.Word, why}
		if !slices.Contains(keys, key) && (f.unknown == nil || fault.Line < f.unknown.Line) {
			f.unknown = fault
		}
	}
}

func (f *File) value(at string, v any, into reflect.Value, tag reflect.StructTag) {
	most, _ := strconv.Atoi(cmp.Or(tag.Get("max"), "40"))
	switch into.Kind() {
	case reflect.Struct:
		values, ok := v.(map[string]any)
		if !ok {
			f.fail(at, WrongKind{"table"})
		}
		f.table(at, values, into)
	case reflect.Slice:
		f.list(at, v, into, tag)
	case reflect.String:
		t, ok := v.(string)
		switch n := utf8.RuneCountInString(t); {
		case !ok:
			f.fail(at, WrongKind{"text"})
		case strings.ContainsFunc(t, hidden):
			f.fail(at, Hidden{})
		case n > most:
			f.fail(at, reason.TooLong{What: "text", Has: n, Most: most})
		case strings.TrimSpace(t) == "" && tag.Get("need") != "":
			f.fail(at, Empty)
		}
		into.SetString(strings.TrimSpace(t))
	default:
		f.figure(at, v, into, tag.Get("range"))
	}
}

// list reads a list of 1 to max tables, texts that differ, or figures that rise.
func (f *File) list(at string, v any, into reflect.Value, tag reflect.StructTag) {
	kinds := map[reflect.Kind]string{reflect.Struct: "tables", reflect.String: "texts", reflect.Int: "numbers"}
	list, ok := v.([]any)
	if !ok && tag.Get("one") != "" {
		list, ok = []any{v}, true
	}
	most, _ := strconv.Atoi(cmp.Or(tag.Get("items"), "100"))
	kind := into.Type().Elem().Kind()
	switch {
	case !ok:
		f.fail(at, WrongKind{kinds[kind]})
	case len(list) == 0:
		f.fail(at, Empty)
	case len(list) > most:
		f.fail(at, reason.TooLong{What: "list", Has: len(list), Most: most})
		return
	}
	out := reflect.MakeSlice(into.Type(), len(list), len(list))
	for i, v := range list {
		x := out.Index(i)
		if _, table := v.(map[string]any); kind == reflect.Struct && !table {
			f.fail(at, WrongKind{"tables"})
			return
		}
		f.value(at+path(i), v, x, tag)
		if i > 0 && x.CanInt() && x.Int() <= out.Index(i-1).Int() {
			f.fail(at, NotRising{int(out.Index(i - 1).Int()), int(x.Int())})
		}
		for j := range i {
			if kind == reflect.String && out.Index(j).String() == x.String() {
				f.fail(at, Twice{x.String()})
			}
		}
	}
	into.Set(out)
}

// quantities are the figures that a file may give as a text with its unit too.
var quantities = map[reflect.Type]struct {
	unit  string  // of a bare number
	per   float64 // of that unit in one
	parse func(text string) float64
}{
	reflect.TypeFor[quantity.Fraction](): {"%", 100, orNaN(quantity.ParsePercent)},
	reflect.TypeFor[quantity.Celsius]():  {"C", 1, orNaN(quantity.ParseTemp)},
	reflect.TypeFor[quantity.Grams]():    {"g", 1, orNaN(quantity.ParseWeight)},
	reflect.TypeFor[quantity.Metres]():   {"cm", 100, orNaN(quantity.ParseLength)},
}

func orNaN[T ~float64](parse func(string) (T, error)) func(string) float64 {
	return func(text string) float64 {
		if x, err := parse(text); err == nil {
			return float64(x)
		}
		return math.NaN()
	}
}

// figure reads a number or a quantity within the bounds of its tag, which are in
// the unit of a bare number.
func (f *File) figure(at string, v any, into reflect.Value, bounds string) {
	why, x, per := Range{Whole: into.CanInt()}, math.NaN(), 1.0
	_, _ = fmt.Sscan(bounds, &why.Low, &why.High, &why.Unit)
	q, ok := quantities[into.Type()]
	if ok {
		why.Unit, per = q.unit, q.per
	}
	switch v := v.(type) {
	case int64:
		x = float64(v) / per
	case float64:
		x = v / per
	case string:
		if ok {
			x = q.parse(v)
		}
	}
	// A bound itself must pass: 0.07 times one hundred is over 7.
	slack := 1e-9 * math.Max(math.Abs(why.Low), math.Abs(why.High))
	if y := x * per; !(y >= why.Low-slack && y <= why.High+slack) || why.Whole && y != math.Trunc(y) {
		f.fail(at, why)
	} else if why.Whole {
		into.SetInt(int64(x))
	} else {
		into.SetFloat(x)
	}
}

// In is the table at a path of keys and places in lists: In("step", 0).
func (f *File) In(at ...any) Section { return Section{f, path(at...)} }

// Has says whether the key is written.
func (s Section) Has(key string) bool { return s.file.lines[s.at+path(key)] != 0 }

// Line is the line of a key, or of the table where the key is not written or "".
func (s Section) Line(key string) int { return s.file.line(s.at + path(key)) }

// Fail records what is wrong at a key, unless something was found before.
func (s Section) Fail(key string, why reason.Reason) { s.file.fail(s.at+path(key), why) }

// Word records a word that is not one of those known; "" is one that is missing.
func (s Section) Word(key, word string, known []string) {
	if !slices.Contains(known, word) {
		s.Fail(key, reason.Unknown{What: reason.Thing(key), Word: cut(word, 40), Known: strings.Join(known, ", ")})
	}
}

var name = regexp.MustCompile("^[a-z0-9][a-z0-9-]{0,38}[a-z0-9]$")

// Name records a name that is not 2 to 40 of a-z, 0-9 and dashes with a letter or
// digit at both ends.
func (s Section) Name(key, word string) {
	if !name.MatchString(word) {
		s.Fail(key, reason.Unreadable{What: "name", Word: cut(word, 40)})
	}
}
