package reason

import (
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
)

// kind is a registered type of reason with its fields taken apart once.
type kind struct {
	number uint64
	code   string
	typ    reflect.Type
	fields []field
}

// field is one figure of a reason. A struct inside one is a figure with fields itself.
type field struct {
	index  int
	name   string // in JSON
	form   form
	fields []field
}

// form is how a figure is written.
type form int

const (
	number  form = iota // a float
	percent             // a quantity.Fraction, in JSON as percent
	whole               // a signed integer
	date                // a day.Date
	small               // an unsigned integer
	named               // an unsigned integer with a String for JSON
	truth
	text
	instant // a time.Time, to the millisecond
	group   // a struct
)

var (
	byNumber = map[uint64]*kind{}
	byCode   = map[string]*kind{}
	byType   = map[reflect.Type]*kind{}
)

// Register makes types of reason known under their numbers, which are never changed or used again. It panics where
// a number, code or type is taken, or a field is of a sort that cannot be written: mistakes in the program that its
// first test run meets.
func Register(kinds map[int]Reason) {
	for _, n := range slices.Sorted(maps.Keys(kinds)) {
		r := kinds[n]
		k := &kind{number: uint64(n), code: r.Code(), typ: reflect.TypeOf(r)}
		if n < 1 || byNumber[k.number] != nil || byCode[k.code] != nil || byType[k.typ] != nil {
			panic(fmt.Sprintf("reason %d (%s, %v) is registered already", n, k.code, k.typ))
		}
		k.fields = fieldsOf(k.typ)
		byNumber[k.number], byCode[k.code], byType[k.typ] = k, k, k
	}
}

// Numbered gives an empty reason of the type with a number; nil where there is none.
func Numbered(n int) Reason {
	if k := byNumber[uint64(n)]; k != nil {
		return reflect.Zero(k.typ).Interface().(Reason)
	}
	return nil
}

// Newest is the highest number registered: an index written with a higher one cannot be read by this program.
func Newest() int { return int(slices.Max(slices.Collect(maps.Keys(byNumber)))) }

func fieldsOf(t reflect.Type) []field {
	var out []field
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		x := field{index: i, name: name, form: formOf(f.Type)}
		if x.form == group {
			x.fields = fieldsOf(f.Type)
		}
		if name == "" || !f.IsExported() {
			panic(fmt.Sprintf("field %s of %v has no name in JSON", f.Name, t))
		}
		out = append(out, x)
	}
	return out
}

func formOf(t reflect.Type) form {
	switch t {
	case reflect.TypeFor[quantity.Fraction]():
		return percent
	case reflect.TypeFor[day.Date]():
		return date
	case reflect.TypeFor[time.Time]():
		return instant
	}
	switch t.Kind() {
	case reflect.Float64:
		return number
	case reflect.Int:
		return whole
	case reflect.Uint8:
		if t.Implements(reflect.TypeFor[fmt.Stringer]()) {
			return named
		}
		return small
	case reflect.Bool:
		return truth
	case reflect.String:
		return text
	case reflect.Struct:
		return group
	}
	panic(fmt.Sprintf("a reason cannot hold a %v", t))
}
