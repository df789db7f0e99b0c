// Package tomlfile reads the small TOML files a maker keeps by hand: rind plans, varieties and rules of food law. A
// file is decoded into a struct whose tags say what it may have: toml the key, need that it must be there, max the
// most characters of a text, items the most items of a list, one that it may be one figure instead, range the
// bounds of a figure and its unit. Anything else is a Fault with its line and key. What the keys mean is for the
// caller.
//
// The strict mode of go-toml would take "JOB" for "job" and doesn't keep the lines.
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
	"sync"
	"unicode"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// MaxSize is the most bytes a file may have: our choice, as is where this package cuts
// words off.
const MaxSize = 64 * 1024

// Clean removes the byte order mark from a file's bytes.
func Clean(data []byte) []byte { return bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")) }

// Decode reads a file's bytes into the struct that into points to and gives its top
// table. Name is the file's, for errors, which are always a Fault; where it and they are
// cut off is our choice.
func Decode(name string, data []byte, into any) (*Table, error) {
	f := &file{name: cut(visible(name[strings.LastIndexAny(name, `/\`)+1:]), 80)}
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
	top := f.outline(data)
	top.table(values, reflect.ValueOf(into).Elem())
	return top, top.Err()
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

// hidden is true of what acts on a terminal or a page instead of showing: controls,
// line and paragraph separators, marks of direction and of no width.
func hidden(r rune) bool {
	return unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Co)
}

// table reads a table into a struct. Unknown keys are shown up to 40 characters: our
// choice.
func (t *Table) table(values map[string]any, into reflect.Value) {
	fields := slices.DeleteFunc(reflect.VisibleFields(into.Type()), func(f reflect.StructField) bool {
		return f.Tag.Get("toml") == ""
	})
	known := make([]string, len(fields))
	for i, f := range fields {
		known[i] = f.Tag.Get("toml")
	}
	for key := range values {
		if k := t.In(key); !slices.Contains(known, key) && (t.file.unknown == nil || k.line < t.file.unknown.Line) {
			why := reason.Unknown{What: "key", Word: cut(key, 40), Known: strings.Join(known, ", ")}
			t.file.unknown = &Fault{t.file.name, k.line, why.Word, why}
		}
	}
	for i, f := range fields {
		if v, ok := values[known[i]]; ok {
			t.In(known[i]).value(v, into.FieldByIndex(f.Index), f.Tag)
		} else if f.Tag.Get("need") != "" {
			t.Fail(known[i], reason.Missing{What: reason.Thing(known[i])})
		}
	}
}

// value reads the value of a key.
func (t *Table) value(v any, into reflect.Value, tag reflect.StructTag) {
	switch into.Kind() {
	case reflect.Struct:
		values, ok := v.(map[string]any)
		if !ok {
			t.fail(WrongKind{"table"})
		}
		t.table(values, into)
	case reflect.Slice:
		t.items(v, into, tag)
	case reflect.String:
		most, _ := strconv.Atoi(cmp.Or(tag.Get("max"), "40"))
		text, ok := v.(string)
		switch n := utf8.RuneCountInString(text); {
		case !ok:
			t.fail(WrongKind{"text"})
		case strings.ContainsFunc(text, hidden):
			t.fail(Hidden{})
		case n > most:
			t.fail(reason.TooLong{What: "text", Has: n, Most: most})
		case strings.TrimSpace(text) == "" && tag.Get("need") != "":
			t.fail(Empty)
		}
		into.SetString(strings.TrimSpace(text))
	default:
		t.figure(v, into, tag.Get("range"))
	}
}

// items reads a list of tables, of texts that differ, or of figures that rise.
func (t *Table) items(v any, into reflect.Value, tag reflect.StructTag) {
	kind := into.Type().Elem().Kind()
	want := map[reflect.Kind]string{reflect.Struct: "tables", reflect.String: "texts", reflect.Int: "numbers"}[kind]
	list, ok := v.([]any)
	if !ok && tag.Get("one") != "" {
		list, ok = []any{v}, true
	}
	most, _ := strconv.Atoi(cmp.Or(tag.Get("items"), "100"))
	switch {
	case !ok:
		t.fail(WrongKind{want})
	case len(list) == 0:
		t.fail(Empty)
	case len(list) > most:
		t.fail(reason.TooLong{What: "list", Has: len(list), Most: most})
		return
	}
	for i, v := range list {
		if _, table := v.(map[string]any); kind == reflect.Struct && !table {
			t.fail(WrongKind{want})
			return
		}
		x := reflect.New(into.Type().Elem()).Elem()
		t.Item(i).value(v, x, tag)
		for j := range i {
			if kind == reflect.String && into.Index(j).String() == x.String() {
				t.fail(Twice{x.String()})
			}
		}
		if i > 0 && x.CanInt() && x.Int() <= into.Index(i-1).Int() {
			t.fail(NotRising{int(into.Index(i - 1).Int()), int(x.Int())})
		}
		into.Set(reflect.Append(into, x))
	}
}

// quantities are the figures that may be a text with a unit too.
var quantities = map[reflect.Type]struct {
	unit  string  // of a bare number
	per   float64 // of that unit in one
	parse func(text string) (float64, error)
}{
	reflect.TypeFor[quantity.Fraction](): {"%", 100, float(quantity.ParsePercent)},
	reflect.TypeFor[quantity.Celsius]():  {"C", 1, float(quantity.ParseTemp)},
	reflect.TypeFor[quantity.Grams]():    {"g", 1, float(quantity.ParseWeight)},
	reflect.TypeFor[quantity.Metres]():   {"cm", 100, float(quantity.ParseLength)},
}

func float[T ~float64](parse func(string) (T, error)) func(string) (float64, error) {
	return func(text string) (float64, error) {
		x, err := parse(text)
		return float64(x), err
	}
}

// figure reads a number or a quantity within the bounds of its tag, which are in the unit of a bare number.
func (t *Table) figure(v any, into reflect.Value, bounds string) {
	why, x, per, err := Range{Whole: into.CanInt()}, math.NaN(), 1.0, error(nil)
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
			x, err = q.parse(v)
		}
	}
	// A bound itself must pass: 0.07 times one hundred is over 7.
	slack := 1e-9 * math.Max(math.Abs(why.Low), math.Abs(why.High))
	y := x * per
	switch in := y >= why.Low-slack && y <= why.High+slack; {
	case err != nil || !in || why.Whole && y != math.Trunc(y):
		t.fail(why)
	case why.Whole:
		into.SetInt(int64(x))
	default:
		into.SetFloat(x)
	}
}

// Word records a word that isn't one of those known; "" is one that is missing. It's
// shown up to 40 characters: our choice.
func (t *Table) Word(key, word string, known []string) {
	if !slices.Contains(known, word) {
		t.Fail(key, reason.Unknown{What: reason.Thing(key), Word: cut(word, 40), Known: strings.Join(known, ", ")})
	}
}

var name = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile("^[a-z0-9][a-z0-9-]{0,38}[a-z0-9]$")
})

// Name records a name that isn't 2 to 40 (our choice) of a-z, 0-9 and dashes with a letter or digit at both ends.
func (t *Table) Name(key, word string) {
	if !name().MatchString(word) {
		t.Fail(key, reason.Unreadable{What: "name", Word: cut(word, 40)})
	}
}
