package reason

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"time"

	"rindkeep/cave/day"
)

// MarshalJSON writes [{"code":"every","days":7}, ...]: never null, fractions as
// percent, dates and instants as text, what is not known as null.
func (l List) MarshalJSON() ([]byte, error) {
	b := []byte{'['}
	for i, r := range l {
		if i > 0 {
			b = append(b, ',')
		}
		v := reflect.ValueOf(r)
		k := byType[v.Type()]
		if k == nil { // one of a refusal, which no index holds
			k = &kind{code: r.Code()}
		}
		b = appendJSON(append(b, `{"code":`...), k.code)
		b = append(figuresJSON(b, v, k.fields), '}')
	}
	return append(b, ']'), nil
}

// figuresJSON writes the members of an object, each with a comma before it.
func figuresJSON(b []byte, v reflect.Value, fields []field) []byte {
	for _, f := range fields {
		b = append(appendJSON(append(b, ','), f.name), ':')
		x := v.Field(f.index)
		if f.form == group {
			inner := figuresJSON(nil, x, f.fields)
			b = append(append(append(b, '{'), inner[min(1, len(inner)):]...), '}')
			continue
		}
		b = appendJSON(b, f.show(x))
	}
	return b
}

// show is a figure as JSON has it; nil where it is not known.
func (f field) show(x reflect.Value) any {
	switch f.form {
	case number:
		return shown(x.Float())
	case percent:
		return shown(100 * x.Float())
	case date:
		if d := day.Date(x.Int()); d != day.None {
			return d.String()
		}
		return nil
	case instant:
		if at := x.Interface().(time.Time); !at.IsZero() {
			return at.UTC().Format(time.RFC3339)
		}
		return nil
	case named:
		if s := x.Interface().(fmt.Stringer).String(); s != "" {
			return s
		}
		return nil
	}
	return x.Interface()
}

// shown is a figure of ten digits: the eleventh says nothing.
func shown(x float64) any {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return json.Number(fmt.Sprintf("%.10g", x))
}

func appendJSON(b []byte, v any) []byte {
	var w bytes.Buffer
	e := json.NewEncoder(&w)
	e.SetEscapeHTML(false)
	_ = e.Encode(v) // text, numbers and truths only
	return append(b, bytes.TrimSuffix(w.Bytes(), []byte("\n"))...)
}

// UnmarshalJSON reads what MarshalJSON wrote. An unknown code or figure is
// refused; a figure that is not there is its zero.
func (l *List) UnmarshalJSON(b []byte) error {
	var all []map[string]json.RawMessage
	if err := json.Unmarshal(b, &all); err != nil {
		return err
	}
	*l = nil
	for _, m := range all {
		var code string
		if err := json.Unmarshal(m["code"], &code); err != nil || byCode[code] == nil {
			return fmt.Errorf("no reason %q", code)
		}
		k := byCode[code]
		delete(m, "code")
		v := reflect.New(k.typ).Elem()
		if err := readFigures(v, k.fields, m); err != nil {
			return fmt.Errorf("reason %q: %w", code, err)
		}
		*l = append(*l, v.Interface().(Reason))
	}
	return nil
}

func readFigures(v reflect.Value, fields []field, m map[string]json.RawMessage) error {
	for _, f := range fields {
		raw, ok := m[f.name]
		if !ok {
			continue
		}
		delete(m, f.name)
		if err := f.read(v.Field(f.index), raw); err != nil {
			return fmt.Errorf("%s: %w", f.name, err)
		}
	}
	for name := range m {
		return fmt.Errorf("it has no figure %q", name)
	}
	return nil
}

// read reads a figure; a named one is a byte, of 256 by definition.
func (f field) read(x reflect.Value, raw json.RawMessage) error {
	if string(raw) == "null" {
		switch f.form {
		case number, percent:
			x.SetFloat(math.NaN())
		case date:
			x.SetInt(int64(day.None))
		}
		return nil
	}
	switch f.form {
	case group:
		var m map[string]json.RawMessage
		if err := json.Unmarshal(raw, &m); err != nil {
			return err
		}
		return readFigures(x, f.fields, m)
	case named:
		var s string
		if err := json.Unmarshal(raw, &s); err != nil {
			return err
		}
		for n := range uint64(256) {
			if x.SetUint(n); x.Interface().(fmt.Stringer).String() == s {
				return nil
			}
		}
		return fmt.Errorf("no value %q", s)
	}
	if err := json.Unmarshal(raw, x.Addr().Interface()); err != nil {
		return err
	}
	if f.form == percent {
		x.SetFloat(x.Float() / 100)
	}
	return nil
}
