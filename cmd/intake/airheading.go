package intake

import (
	"cmp"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// AirFields are the fields of a logger's table that people can name.
var AirFields = []string{"time", "clock", "temperature", "humidity", "sensor"}

// What headings of a logger's columns mean in English, French, German, Italian and Spanish, as key writes them.
var (
	whenWord = pattern(`^(date_?_?(time|heure)|datetime|timestamp|time_?stamp|date_and_time|date|when|at|` +
		`datum|datum_(uhr)?zeit|zeitpunkt|zeitstempel|horodatage|data|data_e?_?ora|fecha|fecha_y?_?hora)(_|$)`)
	clockWord = pattern(`^(time|heure|uhrzeit|zeit|ora|hora)(_|$)`)
	tempWord  = pattern(`(^|_)(temp|t|c|f|celsius|fahrenheit|°c|°f)(_|$)|temp`)
	rhWord    = pattern(`(^|_)(rh|hum|h|hr|rf|ur)(_|$)|humid|feucht|umidita|humedad`)
	notAir    = pattern(`dew|abs|batt|taupunkt|rosee|rocio|rugiada|wet_bulb|signal|min(_|$)|max(_|$)`)
	sensorIs  = pattern(`^(sensor|channel|probe|logger|serial|kanal|fuhler|messstelle|capteur|sonde|sensore|` +
		`sonda|canal)(_(id|no|nr|name|number))?$`)
	fahr    = pattern(`fahrenheit|(_|^|°)f$`)
	unitEnd = pattern(`_?(°?[cf]|celsius|fahrenheit)$`)
)

// airField is what a heading of a logger's column means, or "".
func airField(h string) string {
	k := key(h)
	switch {
	case !utf8.ValidString(h), len(h) > MaxCell, notAir().MatchString(k):
	case sensorIs().MatchString(k):
		return "sensor"
	case whenWord().MatchString(k):
		return "time"
	case clockWord().MatchString(k):
		return "clock"
	case rhWord().MatchString(k), strings.Contains(h, "%"):
		return "humidity"
	case tempWord().MatchString(k):
		return "temperature"
	}
	return ""
}

// airHeading finds the heading row and its columns. Where no row has all of them, it says what is missing.
func (t *table) airHeading(o *AirOptions) error {
	if t.byLetters(o.Columns, airNeeds) {
		o.Unit = cmp.Or(o.Unit, "C")
		return nil
	}
	var first []string
	near, line := map[string]column{}, 0
	var has []string
	for range 40 {
		cells, err := t.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if first == nil {
			first = slices.Clone(cells)
		}
		if err := t.airColumns(cells, o.Columns); err != nil {
			return err
		}
		if len(missing(t.columns)) == 0 {
			o.Unit = cmp.Or(o.Unit, t.columns["temperature"].unit)
			return nil
		}
		if len(t.columns) > len(near) {
			near, has = t.columns, said(cells)
			line, _ = t.pos(0)
		}
	}
	if len(near) > 0 {
		return Problem{Line: line, Sheet: t.rows != nil, Why: NoAirColumns{missing(near), has}}
	}
	return Problem{Why: NoAirHeading{t.proposal(first, *o)}}
}

// airNeeds are the fields that every reading has.
var airNeeds = []string{"time", "temperature", "humidity"}

// missing are the fields of a reading that no column gives.
func missing(columns map[string]column) (out []string) {
	for _, f := range airNeeds {
		if _, ok := columns[f]; !ok {
			out = append(out, f)
		}
	}
	return out
}

// airColumns finds the columns of a row that may be the headings. A second column for a figure is refused, unless it
// differs in its unit alone: which of two sensors is meant, only people know.
func (t *table) airColumns(cells []string, named map[string]string) error {
	t.columns = map[string]column{}
	var twice error
	for i, h := range cells {
		field := airField(h)
		if named[field] != "" {
			field = ""
		}
		for f, n := range named {
			if strings.EqualFold(n, h) {
				field = f
			}
		}
		if field == "" {
			continue
		}
		have, ok := t.columns[field]
		stem := func(s string) string { return unitEnd().ReplaceAllString(key(s), "") }
		if ok && (field == "temperature" || field == "humidity") && stem(have.heading) != stem(h) && twice == nil {
			line, c := t.pos(i)
			twice = Problem{Line: line, Column: c, Sheet: t.rows != nil, Why: TwoColumns{field, show(h), true, have.heading}}
		}
		if !ok {
			t.columns[field] = column{i, h, map[bool]string{false: "C", true: "F"}[fahr().MatchString(key(h))]}
		}
	}
	if clock, ok := t.columns["clock"]; ok && !t.has("time") {
		t.columns["time"] = clock
		delete(t.columns, "clock")
	}
	if len(missing(t.columns)) > 0 { // a title above the headings
		return nil
	}
	return twice
}

// proposal is how the columns of a table without headings may be named, "" where its first row holds no reading.
func (t *table) proposal(first []string, o AirOptions) string {
	letter := func(i int) string { return string(rune('A' + i)) }
	number := func(i int) bool {
		_, err := strconv.ParseFloat(strings.Replace(strings.TrimRight(first[i], " %°CcFf"), ",", ".", 1), 64)
		return err == nil
	}
	for i := 0; i < len(first) && i < 26; i++ {
		clock, next := "", i+1
		_, wrong := parseWhen(first[i], o)
		if wrong == NoClock && next < len(first) {
			clock, next = ",clock="+letter(next), next+1
		} else if _, unclear := wrong.(Ambiguous); wrong != nil && !unclear {
			continue
		}
		for ; next+1 < len(first) && next < 25; next++ {
			if number(next) && number(next+1) {
				return "time=" + letter(i) + clock + ",temperature=" + letter(next) + ",humidity=" + letter(next+1)
			}
		}
	}
	return ""
}

// AirOrder finds the order of a logger's dates with slashes over its whole column: "dmy", "mdy", or "" where no date
// shows it or none has slashes. A table that can't be read gives "": Air says why.
func AirOrder(in io.Reader, o AirOptions) string {
	t, err := open(in)
	if err != nil || t.airHeading(&o) != nil {
		return ""
	}
	for r, err := range t.all() {
		if err != nil {
			return ""
		}
		m := slashed().FindStringSubmatch(r.text("time"))
		if m == nil || len(m[1]) == 4 {
			continue
		}
		a, _ := strconv.Atoi(m[1])
		b, _ := strconv.Atoi(m[2])
		switch {
		case a > 12 && b <= 12:
			return "dmy"
		case b > 12 && a <= 12:
			return "mdy"
		}
	}
	return ""
}

// of says whether a row is of the sensor that was asked for. Rows of several are refused where none was.
func (r *row) of(o *AirOptions) bool {
	if !r.has("sensor") {
		return true
	}
	name := strings.Clone(r.text("sensor"))
	switch {
	case o.Sensor == "":
		o.Sensor, o.taken = name, true
	case strings.EqualFold(o.Sensor, name):
	case o.taken:
		r.fail("sensor", TwoSensors{show(o.Sensor), show(name)})
	default:
		return false
	}
	return true
}

type (
	// NoAirColumns is a heading row of a logger that lacks columns.
	NoAirColumns struct {
		Missing []string `json:"missing"`
		Has     []string `json:"headings"`
	}
	// NoAirHeading is a logger's table without headings; Proposal is how its columns may be named.
	NoAirHeading struct {
		Proposal string `json:"proposal"`
	}
	// TwoSensors is a logger's table with rows of several sensors.
	TwoSensors struct {
		First  string `json:"first"`
		Second string `json:"second"`
	}
)

// The codes.

func (NoAirColumns) Code() string { return "no-air-columns" }
func (NoAirHeading) Code() string { return "no-heading" }
func (TwoSensors) Code() string   { return "two-sensors" }
