package page

import (
	"encoding/base64"
	"encoding/json"
	"slices"
	"strconv"
	"time"
)

// kind is what a field may hold.
type kind string

// The kinds of field. A word is text, or a number where the text would be one.
const (
	asText   kind = "text"
	asWord   kind = "text or number"
	asNumber kind = "number"
	asTruth  kind = "true or false"
	asYesNo  kind = `"yes" or "no"`
	asList   kind = "list of text"
	asScores kind = "object of numbers"
	asNames  kind = "object of text"
	asFile   kind = "CSV or XLSX file in base64"
	asPhoto  kind = "JPEG, PNG or WebP picture in base64"
)

// article is the kind with its article: "a number".
func (k kind) article() string {
	switch k {
	case asText, asWord, asTruth:
		return string(k)
	case asScores, asNames:
		return "an " + string(k)
	}
	return "a " + string(k)
}

// field is one field of what is sent to an act.
type field struct {
	name  string
	kind  kind
	must  bool
	about string
}

// values are the fields sent, by name, each of its kind.
type values map[string]any

func (v values) text(name string) string { s, _ := v[name].(string); return s }
func (v values) truth(name string) bool  { b, _ := v[name].(bool); return b }
func (v values) list(name string) []string {
	l, _ := v[name].([]string)
	return l
}

// clock is what the sender's clock said, the zero time where it was right.
func (v values) clock() (time.Time, error) {
	word := v.text("clock")
	if word == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.RFC3339, word)
	if t = t.UTC(); err != nil || t.Year() < 1970 || t.Year() > 9999 {
		return time.Time{}, badRequestf("clock", "clock isn't a time like 2026-11-25T08:00:00Z: %s", short(word))
	}
	return t, nil
}

// whom is the wheels the act is about.
func (v values) whom() []string {
	var out []string
	if w := v.text("wheel"); w != "" {
		out = append(out, w)
	}
	return slices.Concat(out, v.list("wheels"), v.list("what"))
}

// read takes the fields of an act out of what was sent; one it does not know is
// refused, and so is one that lacks or is of another kind.
func (a act) read(sent map[string]any) (values, error) {
	v := values{}
	left := map[string]any{}
	for k, x := range sent {
		left[k] = x
	}
	for _, f := range append(append([]field(nil), common...), a.fields...) {
		x, here := left[f.name]
		delete(left, f.name)
		if here && x != nil {
			got, err := f.kind.read(f.name, x)
			if err != nil {
				return nil, err
			}
			v[f.name] = got
		}
		if s, isText := v[f.name].(string); f.must && (v[f.name] == nil || isText && s == "") {
			return nil, badRequestf(f.name, "%s is missing (%s)", f.name, f.about)
		}
	}
	first := ""
	for k := range left {
		if first == "" || k < first {
			first = k
		}
	}
	if len(left) > 0 {
		return nil, badRequestf(short(first), "%s has no field %q", a.name, short(first))
	}
	if slices.Contains(a.fields, whatField) && len(v.whom()) == 0 {
		return nil, badRequestf("wheels", "wheels is missing: list the tags of the wheels")
	}
	return v, nil
}

// read is a value of the kind, or what is wrong with it.
func (k kind) read(name string, x any) (any, error) {
	wrong := badRequestf(name, "%s must be %s", name, k.article())
	s, isText := x.(string)
	n, isNumber := x.(json.Number)
	switch k {
	case asText:
		if isText {
			return s, nil
		}
	case asWord:
		if isText {
			return s, nil
		}
		if isNumber {
			return plain(name, n)
		}
	case asNumber:
		if isNumber {
			return plain(name, n)
		}
	case asTruth:
		if b, ok := x.(bool); ok {
			return b, nil
		}
	case asYesNo:
		if s == "yes" || s == "no" {
			return s, nil
		}
	case asList:
		l, ok := x.([]any)
		if !ok {
			return nil, wrong
		}
		out := []string{}
		for _, e := range l {
			switch e := e.(type) {
			case string:
				out = append(out, e)
			case json.Number:
				w, err := plain(name, e)
				if err != nil {
					return nil, err
				}
				out = append(out, w)
			default:
				return nil, wrong
			}
		}
		return out, nil
	case asScores, asNames:
		o, ok := x.(map[string]any)
		if !ok {
			return nil, wrong
		}
		out := map[string]string{}
		for n, e := range o {
			w, err := asWord.read(name+"."+n, e)
			if err != nil {
				return nil, err
			}
			out[n] = w.(string)
		}
		return out, nil
	case asPhoto:
		if isText {
			return bytesOf(name, s, maxPhoto)
		}
	case asFile:
		if isText {
			return bytesOf(name, s, maxTable)
		}
	}
	return nil, wrong
}

// plain is a number without exponent, as commands read it.
func plain(name string, n json.Number) (string, error) {
	f, err := strconv.ParseFloat(string(n), 64)
	if err != nil || f > 1e12 || f < -1e12 {
		return "", badRequestf(name, "%s is out of range", name)
	}
	return strconv.FormatFloat(f, 'f', -1, 64), nil
}

// maxPhoto is the largest picture that a request can bring, in bytes.
const maxPhoto = 700_000

// maxTable is the largest table that the page takes, in bytes: that of a cave of 50,000
// wheels.
const maxTable = 8_000_000

// bytesOf is a file as it was sent.
func bytesOf(name, s string, most int) ([]byte, error) {
	b, err := base64.StdEncoding.DecodeString(s)
	switch {
	case err != nil:
		return nil, badRequestf(name, "%s isn't base64", name)
	case len(b) > most:
		return nil, badRequestf(name, "%s is too large; send at most %d kB", name, most/1000)
	}
	return b, nil
}
