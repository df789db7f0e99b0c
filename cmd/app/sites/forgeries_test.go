package sites

import (
	"encoding/binary"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
)

// id is an identity that nothing in the book has.
func newID(n byte) uuid.UUID { return uuid.UUID{0xf0, 6: 0x40, 8: 0x80, 15: n} }

// forgeries are what no honest program writes.
func (r *robbed) forgeries() map[string][]forged {
	out := map[string][]forged{}
	mk := with(r.make, func(m *wheel.Make) { m.ID, m.Lot, m.Written = newID(1), "B1", r.now })
	wh := with(r.wheel, func(w *wheel.Wheel) {
		w.ID, w.Make, w.Tag, w.Written, w.Since = newID(2), mk.ID, "B1-01", r.now, r.now
	})
	en := wheel.Entry{ID: newID(3), Subject: r.wheel.ID, Kind: wheel.Weighed, Weight: 1900, At: r.now, Written: r.now}
	makeOf := func(m wheel.Make) forged { return record(layout.Makes, m.ID[:], m) }
	wheelOf := func(w wheel.Wheel) forged { return record(layout.Wheels, w.ID[:], w) }
	good := []forged{makeOf(mk), wheelOf(wh)}
	onOwn := func(change func(*wheel.Entry)) []forged {
		return append(slices.Clone(good), entry(with(en, func(e *wheel.Entry) { e.Subject = wh.ID; change(e) })))
	}

	out["good facts"] = append(onOwn(func(e *wheel.Entry) { e.ID = newID(4) }), entry(en))
	for _, k := range []wheel.Kind{
		wheel.Logged, wheel.Corrected, wheel.Sampled, wheel.Resulted, wheel.Weighed, wheel.Tagged, wheel.Moved,
		wheel.Planned, wheel.Voided, wheel.Received, wheel.TakenOver, wheel.Sent, wheel.Did, wheel.Held, wheel.CoatedOn,
		wheel.Cored, wheel.Cut, wheel.Tasted, wheel.Checked, wheel.SentPart, wheel.Asked, wheel.Noted, wheel.Lost,
		wheel.Released, wheel.Skipped, wheel.Struck,
	} {
		full := func(e *wheel.Entry) {
			e.Kind, e.Job, e.Place, e.Plan, e.Tag, e.To = k, wheel.Turn, "cellar", "brushed-young", "T", "Shop"
			e.Target, e.Coat = r.entry.ID, "wax"
			e.Found = r.entry.Found
			switch k {
			case wheel.Logged, wheel.Corrected, wheel.Sampled, wheel.Resulted:
				e.Detail = r.made.Detail
			case wheel.Received:
				e.Detail = `{"supplier":"X"}`
			}
		}
		out[k.String()+" of a make"] = []forged{entry(with(en, func(e *wheel.Entry) { full(e); e.Subject = r.make.ID }))}
		out[k.String()+" of a wheel"] = []forged{entry(with(en, full))}
		out[k.String()+" without anything"] = []forged{entry(with(en, func(e *wheel.Entry) { e.Kind, e.Weight = k, 0 }))}
	}
	for name, change := range map[string]func(*wheel.Entry){
		"a weight of NaN":        func(e *wheel.Entry) { e.Weight = quantity.Grams(math.NaN()) },
		"an endless weight":      func(e *wheel.Entry) { e.Weight = quantity.Grams(math.Inf(1)) },
		"a negative weight":      func(e *wheel.Entry) { e.Weight = -5 },
		"a huge weight":          func(e *wheel.Entry) { e.Weight = 1e300 },
		"a removed NaN":          func(e *wheel.Entry) { e.Kind, e.Removed = wheel.Cored, quantity.Grams(math.NaN()) },
		"the year 1970":          func(e *wheel.Entry) { e.At, e.Written = time.UnixMilli(0), time.UnixMilli(0) },
		"the year 9999":          func(e *wheel.Entry) { e.At, e.Written = pack.MaxTime, pack.MaxTime },
		"written in 9999":        func(e *wheel.Entry) { e.Written = pack.MaxTime },
		"before the make":        func(e *wheel.Entry) { e.At = r.now.AddDate(-30, 0, 0) },
		"a name with NUL":        func(e *wheel.Entry) { e.By = "a\x00b" },
		"a huge name":            func(e *wheel.Entry) { e.By = strings.Repeat("x", 100_000) },
		"a note of no UTF-8":     func(e *wheel.Entry) { e.Note = "\xff\xfe" },
		"a huge note":            func(e *wheel.Entry) { e.Note = strings.Repeat("x", 1<<20) },
		"a place that isn't one": func(e *wheel.Entry) { e.Kind, e.Weight, e.Place = wheel.Moved, 0, "//a/b/c\x00/d" },
		"no place":               func(e *wheel.Entry) { e.Kind, e.Weight = wheel.Moved, 0 },
		"a place of a's":         func(e *wheel.Entry) { e.Kind, e.Weight, e.Place = wheel.Moved, 0, "a:cellar/A/1" },
		"a place of nobody's":    func(e *wheel.Entry) { e.Kind, e.Weight, e.Place = wheel.Moved, 0, "zz:cellar" },
		"a place of colons":      func(e *wheel.Entry) { e.Kind, e.Weight, e.Place = wheel.Moved, 0, ":::" },
		"on the way nowhere":     func(e *wheel.Entry) { e.Kind, e.Weight, e.Place = wheel.Moved, 0, ":" },
		"a huge place": func(e *wheel.Entry) {
			e.Kind, e.Weight, e.Place = wheel.Moved, 0, cave.Place(strings.Repeat("p", 40_000))
		},
		"an empty tag":         func(e *wheel.Entry) { e.Kind, e.Weight = wheel.Tagged, 0 },
		"a tag of a's":         func(e *wheel.Entry) { e.Kind, e.Weight, e.Tag = wheel.Tagged, 0, "a:"+r.wheel.Tag },
		"a tag with NUL":       func(e *wheel.Entry) { e.Kind, e.Weight, e.Tag = wheel.Tagged, 0, "x\x00y" },
		"a tag of a colon":     func(e *wheel.Entry) { e.Kind, e.Weight, e.Tag = wheel.Tagged, 0, "a:" },
		"a huge tag":           func(e *wheel.Entry) { e.Kind, e.Tag = wheel.Tagged, strings.Repeat("t", 40_000) },
		"no such plan":         func(e *wheel.Entry) { e.Kind, e.Weight, e.Plan = wheel.Planned, 0, "nosuch" },
		"an empty plan":        func(e *wheel.Entry) { e.Kind, e.Weight = wheel.Planned, 0 },
		"no such coat":         func(e *wheel.Entry) { e.Kind, e.Coat = wheel.CoatedOn, "\x00" },
		"the ID of its wheel":  func(e *wheel.Entry) { e.ID = e.Subject },
		"an ID as its wheel's": func(e *wheel.Entry) { layout.BeginID(&e.ID, e.Subject) },
		"the ID of a's wheel":  func(e *wheel.Entry) { e.ID = r.wheel.ID },
		"the ID of a's make":   func(e *wheel.Entry) { e.ID = r.make.ID },
		"the ID of a's entry":  func(e *wheel.Entry) { e.ID = r.entry.ID },
		"the ID of a's entry, written earlier": func(e *wheel.Entry) {
			e.ID, e.Written = r.entry.ID, r.entry.Written.Add(-time.Hour)
		},
		"a strike of itself":    func(e *wheel.Entry) { e.Kind, e.Weight, e.Target = wheel.Struck, 0, e.ID },
		"a strike of a's entry": func(e *wheel.Entry) { e.Kind, e.Weight, e.Target = wheel.Struck, 0, r.entry.ID },
		"a strike of nothing":   func(e *wheel.Entry) { e.Kind, e.Weight, e.Target = wheel.Struck, 0, newID(99) },
		"a round of itself":     func(e *wheel.Entry) { e.Kind, e.Weight, e.Job, e.Target = wheel.Did, 0, wheel.Turn, e.ID },
		"a job of nobody's":     func(e *wheel.Entry) { e.Kind, e.Weight, e.Job = wheel.Did, 0, "dance" },
		"a clock of 1970":       func(e *wheel.Entry) { e.Clock = time.UnixMilli(0).UTC() },
		"a picture that's not there": func(e *wheel.Entry) {
			e.Kind, e.Weight, e.Detail = wheel.Noted, 0, wheel.PhotoOf([]byte("x"), 1, 1).Detail()
		},
	} {
		out["an entry: "+name] = []forged{entry(with(en, change))}
		out["an entry of b's own: "+name] = onOwn(change)
	}
	for name, detail := range map[string]string{
		"lot":      `{"was":{"lot":"x"},"now":{"lot":"y"}}`,
		"date":     `{"was":{"date":"2026-03-02"},"now":{"date":"9999-12-31"}}`,
		"number":   `{"was":{"date":1},"now":{"date":2000000000}}`,
		"old date": `{"was":{"date":"2026-03-02"},"now":{"date":"1970-01-01"}}`,
		"early":    `{"was":{"date":"2026-03-02"},"now":{"date":"0001-01-01"}}`,
		"variety":  `{"was":{"variety":"gouda"},"now":{"variety":"nosuch"}}`,
		"moisture": `{"was":{"start.moisture_fraction":0.42},"now":{"start.moisture_fraction":-3}}`,
		"huge":     `{"was":{"start.moisture_fraction":0.42},"now":{"start.moisture_fraction":1e308}}`,
		"milk":     `{"was":{"milk.litres":null},"now":{"milk.litres":-1e300}}`,
		"shape":    `{"was":{"shape":null},"now":{"shape":{"form":"cylinder","diameter_m":1e-300,"height_m":1e300}}}`,
		"began":    `{"was":{"began":null},"now":{"began":"9999-12-31T23:59:59Z"}}`,
		"country":  `{"was":{"countries":null},"now":{"countries":"\u0000"}}`,
		"sold as":  `{"was":{"sold_as":null},"now":{"sold_as":"\u0000\u001b[2J"}}`,
		"wheels":   `{"was":{},"now":{},"wheels_was":1,"wheels_now":2000000000}`,
	} {
		for of, id := range map[string]uuid.UUID{"a's": r.make.ID, "its own": mk.ID} {
			out["a correction of "+of+": "+name] = append(slices.Clone(good), entry(with(en, func(e *wheel.Entry) {
				e.Kind, e.Weight, e.Subject, e.Detail = wheel.Corrected, 0, id, detail
			})))
		}
	}
	for name, detail := range map[string]string{
		"from itself":      fmt.Sprintf(`{"what":"from","from_lot":%q,"curd_g":5}`, mk.Lot),
		"from a":           fmt.Sprintf(`{"what":"from","from_lot":%q,"curd_g":5}`, "a:"+r.make.Lot),
		"from nothing":     `{"what":"from","from_lot":"nosuch","curd_g":5}`,
		"aside for itself": fmt.Sprintf(`{"what":"aside","to_lot":%q,"curd_g":5}`, mk.Lot),
		"milk":             `{"what":"milk","litres":1e308}`,
		"composition":      `{"what":"composition","moisture_fraction":0.99}`,
		"negative":         `{"what":"composition","moisture_fraction":-0.5}`,
	} {
		for of, id := range map[string]uuid.UUID{"a's": r.make.ID, "its own": mk.ID} {
			out["a line of the log of "+of+": "+name] = append(slices.Clone(good), entry(with(en, func(e *wheel.Entry) {
				e.Kind, e.Weight, e.Subject, e.Detail = wheel.Logged, 0, id, detail
			})))
		}
	}
	for name, change := range map[string]func(*wheel.Make){
		"a's again":                    func(m *wheel.Make) { m.ID = r.make.ID },
		"a's, written earlier":         func(m *wheel.Make) { m.ID, m.Written = r.make.ID, r.make.Written.Add(-time.Hour) },
		"under a wheel's ID":           func(m *wheel.Make) { m.ID = r.wheel.ID },
		"under an entry's ID":          func(m *wheel.Make) { m.ID = r.entry.ID },
		"under its wheel's ID":         func(m *wheel.Make) { m.ID = wh.ID },
		"without an ID":                func(m *wheel.Make) { m.ID = uuid.Nil },
		"a's lot":                      func(m *wheel.Make) { m.Lot = "a:" + r.make.Lot },
		"a lot as a's":                 func(m *wheel.Make) { m.Lot = "a:NEW" },
		"a lot as a's in capitals":     func(m *wheel.Make) { m.Lot = "A:NEW" },
		"no lot":                       func(m *wheel.Make) { m.Lot = "" },
		"a lot of NUL":                 func(m *wheel.Make) { m.Lot = "x\x00" },
		"a huge lot":                   func(m *wheel.Make) { m.Lot = strings.Repeat("l", 40_000) },
		"a lot with a twin mark":       func(m *wheel.Make) { m.Lot = "x~abc" },
		"no variety":                   func(m *wheel.Make) { m.Variety = "" },
		"no such variety":              func(m *wheel.Make) { m.Variety = "nosuch\x00" },
		"the last date":                func(m *wheel.Make) { m.Date = day.MaxDate },
		"a date far beyond":            func(m *wheel.Make) { m.Date = math.MaxInt32 },
		"a date far before":            func(m *wheel.Make) { m.Date = math.MinInt32 },
		"no date":                      func(m *wheel.Make) { m.Date = day.None },
		"written in year 1":            func(m *wheel.Make) { m.Written = time.Time{} },
		"written in 9999":              func(m *wheel.Make) { m.Written = pack.MaxTime },
		"begun in 9999":                func(m *wheel.Make) { m.Began = pack.MaxTime },
		"negative milk":                func(m *wheel.Make) { m.Milk.Litres = -1e300 },
		"a treatment unknown":          func(m *wheel.Make) { m.Milk.Treatment = "x\x00" },
		"huge deviations":              func(m *wheel.Make) { m.Start.MoistureSD = 1e308 },
		"negative deviations":          func(m *wheel.Make) { m.Start.MoistureSD = -1 },
		"a pH of 1e300":                func(m *wheel.Make) { m.Start.PH = 1e300 },
		"no composition":               func(m *wheel.Make) { m.Start = wheel.Composition{} },
		"countries unknown":            func(m *wheel.Make) { m.Countries = "XX \x00" },
		"a form unknown":               func(m *wheel.Make) { m.Shape = shape.Shape{Form: "donut", Diameter: -1} },
		"a flat shape":                 func(m *wheel.Make) { m.Shape = shape.Shape{Form: shape.Cylinder} },
		"an endless shape":             func(m *wheel.Make) { m.Shape = shape.Shape{Form: shape.Sphere, Diameter: 1e300} },
		"a name of control characters": func(m *wheel.Make) { m.By = "\x1b[2J" },
	} {
		m := with(mk, change)
		out["a make: "+name] = []forged{makeOf(m), wheelOf(with(wh, func(w *wheel.Wheel) { w.Make = m.ID }))}
	}
	earlier := with(r.wheel, func(w *wheel.Wheel) { w.Tag, w.Written = "B1-01", w.Written.Add(-time.Hour) })
	for name, change := range map[string]func(*wheel.Wheel){
		"a's again":            func(w *wheel.Wheel) { w.ID = r.wheel.ID },
		"a's, written earlier": func(w *wheel.Wheel) { *w = earlier },
		"a's, of another make": func(w *wheel.Wheel) { *w = earlier; w.Make = mk.ID },
		"of a's make":          func(w *wheel.Wheel) { w.Make = r.make.ID },
		"of no make":           func(w *wheel.Wheel) { w.Make = newID(77) },
		"of no identity":       func(w *wheel.Wheel) { w.Make = uuid.Nil },
		"of itself":            func(w *wheel.Wheel) { w.Make = w.ID },
		"of a wheel":           func(w *wheel.Wheel) { w.Make = r.wheel.ID },
		"under its make's ID":  func(w *wheel.Wheel) { w.ID = mk.ID },
		"under a's make's ID":  func(w *wheel.Wheel) { w.ID = r.make.ID },
		"without an ID":        func(w *wheel.Wheel) { w.ID = uuid.Nil },
		"number 0":             func(w *wheel.Wheel) { w.Number = 0 },
		"a negative number":    func(w *wheel.Wheel) { w.Number = -7 },
		"a huge number":        func(w *wheel.Wheel) { w.Number = 1 << 40 },
		"no tag":               func(w *wheel.Wheel) { w.Tag = "" },
		"a tag with NUL":       func(w *wheel.Wheel) { w.Tag = "x\x00y" },
		"a's tag":              func(w *wheel.Wheel) { w.Tag = "a:" + r.wheel.Tag },
		"a huge tag":           func(w *wheel.Wheel) { w.Tag = strings.Repeat("t", 40_000) },
		"a tag as of no site":  func(w *wheel.Wheel) { w.Tag = ":x" },
		"no plan":              func(w *wheel.Wheel) { w.Plan = "" },
		"no such plan":         func(w *wheel.Wheel) { w.Plan = "\x00" },
		"a place that isn't":   func(w *wheel.Wheel) { w.Place = "//\x00" },
		"a's place":            func(w *wheel.Wheel) { w.Place = "a:cellar" },
		"a huge place":         func(w *wheel.Wheel) { w.Place = cave.Place(strings.Repeat("p", 40_000)) },
		"an endless shape":     func(w *wheel.Wheel) { w.Shape = shape.Shape{Form: shape.Sphere, Diameter: 1e300} },
		"a negative shape":     func(w *wheel.Wheel) { w.Shape = shape.Shape{Form: shape.Sphere, Diameter: -1} },
		"since year 1":         func(w *wheel.Wheel) { w.Since = time.Time{} },
		"since 9999":           func(w *wheel.Wheel) { w.Since = pack.MaxTime },
		"written in year 1":    func(w *wheel.Wheel) { w.Written = time.Time{} },
	} {
		x := with(wh, change)
		out["a wheel: "+name] = []forged{makeOf(mk), wheelOf(x), entry(with(en, func(e *wheel.Entry) { e.Subject = x.ID }))}
	}
	other := with(mk, func(m *wheel.Make) { m.ID = newID(9) })
	out["a make under another's key"] = []forged{record(layout.Makes, mk.ID[:], other), wheelOf(wh)}
	out["a make under no identity"] = []forged{record(layout.Makes, []byte("x"), mk)}
	out["a make under no key"] = []forged{record(layout.Makes, nil, mk)}
	out["a wheel under another's key"] = append(slices.Clone(good), record(layout.Wheels, r.wheel.ID[:], wh))
	out["a wheel under no identity"] = append(slices.Clone(good), record(layout.Wheels, []byte("x"), wh))
	out["an entry under no identity"] = []forged{entry(with(en, func(e *wheel.Entry) { e.ID = uuid.Nil }))}
	out["a make without a field"] = []forged{text(layout.Makes, string(mk.ID[:]), "{}")}
	out["a make that's a list"] = []forged{text(layout.Makes, string(mk.ID[:]), "[]")}
	out["a make that's null"] = []forged{text(layout.Makes, string(mk.ID[:]), "null")}
	out["a wheel that's null"] = []forged{text(layout.Wheels, string(wh.ID[:]), "null")}
	out["a make with a year beyond"] = []forged{text(layout.Makes, string(mk.ID[:]),
		strings.Replace(string(makeOf(mk).body), `"written":"2026`, `"written":"99999`, 1))}
	out["a make with odd spelling"] = []forged{text(layout.Makes, string(mk.ID[:]),
		strings.Replace(string(makeOf(mk).body), `"lot"`, `"LOT":"x", "lot"`, 1)), wheelOf(wh)}
	out["a wheel before its make"] = []forged{wheelOf(wh), makeOf(mk)}
	out["an entry before its wheel before its make"] = []forged{
		entry(with(en, func(e *wheel.Entry) { e.Subject = wh.ID })), wheelOf(wh), makeOf(mk),
	}
	out["an entry of a make that waits for a wheel"] = []forged{
		entry(with(en, func(e *wheel.Entry) { e.Subject = mk.ID })), makeOf(mk), wheelOf(wh),
	}
	out["a wheel that waits for itself"] = []forged{wheelOf(with(wh, func(w *wheel.Wheel) { w.Make = w.ID }))}
	out["a wheel that waits for a wheel"] = []forged{
		wheelOf(with(wh, func(w *wheel.Wheel) { w.ID, w.Make = newID(5), wh.ID })), makeOf(mk), wheelOf(wh),
	}
	out["two wheels that wait for each other"] = []forged{
		wheelOf(with(wh, func(w *wheel.Wheel) { w.Make = newID(5) })),
		wheelOf(with(wh, func(w *wheel.Wheel) { w.ID, w.Make = newID(5), wh.ID })),
	}
	out["a removed make of a's"] = []forged{entry(with(en, func(e *wheel.Entry) {
		e.Kind, e.Weight, e.Subject = wheel.Voided, 0, r.make.ID
	}))}

	room := with(r.room, func(x *cave.Room) { x.ID, x.Written = newID(6), r.now })
	roomOf := func(x cave.Room) forged { return record(layout.Rooms, []byte(x.Name), x) }
	for name, change := range map[string]func(*cave.Room){
		"a's":               func(x *cave.Room) { x.Name, x.Temp = "a:cellar", 9 },
		"of no site":        func(x *cave.Room) { x.Name, x.Temp = ":cellar", 9 },
		"of nobody's":       func(x *cave.Room) { x.Name = "zz:cellar" },
		"of a's, further":   func(x *cave.Room) { x.Name = "b:a:cellar" },
		"no name":           func(x *cave.Room) { x.Name = "" },
		"a colon":           func(x *cave.Room) { x.Name = ":" },
		"a name of NUL":     func(x *cave.Room) { x.Name = "cellar\x00" },
		"a name of slashes": func(x *cave.Room) { x.Name = "cellar/A" },
		"a huge name":       func(x *cave.Room) { x.Name = strings.Repeat("r", 40_000) },
		"too hot":           func(x *cave.Room) { x.Temp = 1e300 },
		"too dry":           func(x *cave.Room) { x.RH = -1 },
		"many racks":        func(x *cave.Room) { x.Racks = make([]cave.Rack, 5000) },
		"huge racks": func(x *cave.Room) {
			x.Racks = []cave.Rack{{Name: "A", Shelves: math.MaxInt32, PerShelf: math.MaxInt32}}
		},
		"odd movement": func(x *cave.Room) { x.Movement = "\x00" },
		"odd tests":    func(x *cave.Room) { x.Tests = []cave.SensorTest{{Read: -1e300, True: 1e300, Offset: 1e308}} },
		"struck readings": func(x *cave.Room) {
			x.Struck = []cave.StruckReading{{At: time.Time{}, Why: "\x00", Written: pack.MaxTime}}
		},
		"without an ID": func(x *cave.Room) { x.ID = uuid.Nil },
		"an odd title":  func(x *cave.Room) { x.Title = "\x1b[2J" },
		"in order":      func(x *cave.Room) { x.Order = math.MinInt },
	} {
		out["a room: "+name] = []forged{roomOf(with(room, change))}
	}
	out["a room under another's key"] = []forged{record(layout.Rooms, []byte("a:cellar"), room)}
	out["a room under its own key, named as a's"] = []forged{
		record(layout.Rooms, []byte("cellar"), with(room, func(x *cave.Room) { x.Name = "a:cellar" })),
	}
	air := cave.Reading{Temp: 10, RH: 0.8}
	from := func(source uint64) func(*cave.Reading) {
		return func(x *cave.Reading) { x.Source, x.Written = source, r.now }
	}
	out["air: good"] = []forged{roomOf(room), reading("cellar", r.now, air)}
	out["air: of no room"] = []forged{reading("nosuch", r.now, air)}
	out["air: of a's room"] = []forged{reading("a:cellar", r.now, air)}
	out["air: of no name"] = []forged{reading("", r.now, air)}
	out["air: of NUL"] = []forged{reading("x\x00y", r.now, air)}
	out["air: too hot"] = []forged{reading("cellar", r.now, cave.Reading{Temp: 1e9, RH: 0.5})}
	out["air: no humidity there is"] = []forged{reading("cellar", r.now, cave.Reading{Temp: 10, RH: 7})}
	out["air: of NaN"] = []forged{reading("cellar", r.now, cave.Reading{Temp: 10, RH: quantity.Fraction(math.NaN())})}
	out["air: in 9999"] = []forged{reading("cellar", pack.MaxTime, air)}
	out["air: in 1970"] = []forged{reading("cellar", time.UnixMilli(0), air)}
	out["air: in no year"] = []forged{text(layout.Air, "cellar\x00\xff\xff\xff\xff\xff\xff\xff\xff",
		string(reading("x", r.now, air).body))}
	out["air: of a source that isn't there"] = []forged{reading("cellar", r.now, with(air, from(88)))}
	out["air: of a source of a's"] = []forged{reading("cellar", r.now, with(air, from(1<<40)))}
	out["air: a key too short"] = []forged{{layout.Air, []byte("c\x00abc"), reading("cellar", r.now, air).body}}
	waits := with(wh, func(w *wheel.Wheel) { w.Plan, w.Place = "waxed-semi-hard", "cellar" })
	for name, at := range map[string]time.Time{"1970": time.UnixMilli(0), "9999": pack.MaxTime} {
		out["air: where a wheel waits, in "+name] = []forged{
			roomOf(room), makeOf(mk), wheelOf(waits), reading("cellar", at, air), reading("cellar", r.now, air),
			entry(with(en, func(e *wheel.Entry) { e.Subject = waits.ID })),
		}
		out["air: where a's wheel was brought, in "+name] = []forged{
			roomOf(room), reading("cellar", at, air), reading("cellar", r.now, air),
			entry(with(en, func(e *wheel.Entry) { e.Kind, e.Weight, e.Place = wheel.Moved, 0, "cellar" })),
		}
		out["a wheel that waits: weighed in "+name] = []forged{makeOf(mk), wheelOf(waits), entry(en), entry(with(en,
			func(e *wheel.Entry) { e.ID, e.Subject, e.At = newID(4), waits.ID, at },
		)), entry(with(en, func(e *wheel.Entry) { e.Subject = waits.ID }))}
		out["a wheel that waits: made in "+name] = []forged{
			makeOf(with(mk, func(m *wheel.Make) { m.Date = day.At(at, time.UTC) })), wheelOf(waits),
			entry(with(en, func(e *wheel.Entry) { e.Subject = waits.ID })),
		}
	}
	for name, s := range map[string]register.AirSource{
		"good":        {Number: 7, Room: "cellar", Written: r.now, By: "Ann"},
		"number 0":    {Room: "cellar", Written: r.now},
		"a huge one":  {Number: math.MaxUint64, Room: "cellar", Written: r.now},
		"of a's":      {Number: 1<<32 | 5, Room: "a:cellar", Written: r.now},
		"in year 1":   {Number: 8, Room: "cellar"},
		"an odd name": {Number: 9, Room: "\x00", By: "\x00", Written: r.now, File: strings.Repeat("f", 10_000)},
		"of no room":  {Number: 9, Written: r.now},
	} {
		out["an air source: "+name] = []forged{record(layout.AirSources, s.Key(), s)}
		if name != "good" {
			out["an air source under no key: "+name] = []forged{record(layout.AirSources, []byte{1}, s)}
		}
	}

	for _, bucket := range []string{layout.Plans, layout.Varieties, layout.Laws, layout.Limits} {
		for name, body := range map[string]string{
			"no TOML": "{", "empty": "", "other": "name = \"other\"\n", "odd": "name = \"x\"\ntitle = \"\\u0000\"\n",
			"huge": "name = \"x\"\n# " + strings.Repeat("x", 200_000),
		} {
			out[bucket+": "+name] = []forged{text(bucket, "x", body)}
		}
		out[bucket+": under no key"] = []forged{text(bucket, "", "")}
		out[bucket+": a built-in's name, empty"] = []forged{
			text(bucket, "brushed-young", ""), text(bucket, "gouda", ""), text(bucket, "us-cheddar", ""),
		}
	}
	steps := "name = \"brushed-young\"\ntitle = \"x\"\n"
	for i := range 3000 {
		steps += fmt.Sprintf("[[step]]\njob = \"turn\"\nevery = \"%dd\"\n", i%9+1)
	}
	for _, f := range []forged{
		ownText(register.Plans, r.wheel.Plan), ownText(register.Varieties, r.make.Variety),
		ownText(register.Rules, register.Rules.Builtin()[0].Name),
		ownText(register.Limits, register.Limits.Builtin()[0].Name),
	} {
		out[f.bucket+": a good one"] = []forged{f}
	}
	noPlan := ownText(register.Varieties, r.make.Variety)
	noPlan.body = regexp.MustCompile(`(?m)^plan .*`).ReplaceAll(noPlan.body, []byte(`plan = "nosuch"`))
	out["varieties: of a plan that isn't there"] = []forged{noPlan}
	out["plans: thousands of steps"] = []forged{text(layout.Plans, "brushed-young", steps)}
	out["plans: every minute"] = []forged{text(layout.Plans, "brushed-young",
		"name = \"brushed-young\"\ntitle = \"x\"\n[[step]]\njob = \"turn\"\nevery = \"1m\"\n")}
	out["plans: under another's key"] = []forged{text(layout.Plans, "brushed-young", fmt.Sprintf(planText, 1, 1))}
	out["plans: another for all wheels"] = []forged{text(layout.Plans, "brushed-young",
		"name = \"brushed-young\"\ntitle = \"x\"\n[[step]]\njob = \"turn\"\nevery = \"1d\"\n")}

	customer := register.Customer{ID: newID(8), Name: "Shop9", Written: r.now}
	for name, change := range map[string]func(*register.Customer){
		"good": func(*register.Customer) {}, "no name": func(c *register.Customer) { c.Name = "" },
		"NUL": func(c *register.Customer) { c.Name = "x\x00" }, "no ID": func(c *register.Customer) { c.ID = uuid.Nil },
		"huge":   func(c *register.Customer) { c.Note = strings.Repeat("x", 100_000) },
		"year 1": func(c *register.Customer) { c.Written = time.Time{} },
		"odd":    func(c *register.Customer) { c.Contact = "\x1b[2J" },
	} {
		c := with(customer, change)
		out["a customer: "+name] = []forged{record(layout.Customers, c.Key(), c)}
		if name != "good" {
			out["a customer under another's key: "+name] = []forged{record(layout.Customers, []byte("shop1"), c)}
		}
	}
	lift := register.Lift{ID: newID(10), Of: "x", Written: r.now}
	out["a lift of nothing"] = []forged{record(layout.Lifts, lift.Key(), lift)}
	out["a lift of an unknown reason"] = []forged{text(layout.Lifts, string(lift.Key()),
		fmt.Sprintf(`{"id":%q,"of":"x","ended":[{"code":"nosuch"}],"written":%q}`, lift.ID, r.now.Format(time.RFC3339)))}
	out["a lift under no key"] = []forged{text(layout.Lifts, "x", "{}")}
	out["a picture that isn't one"] = []forged{text(layout.Photos, strings.Repeat("k", 32), "x")}
	out["a picture under no key"] = []forged{text(layout.Photos, "", "")}

	pact := register.Pact{
		ID: newID(11), Kind: register.Claimed, Site: r.b.Site, From: r.b.Site, Tag: "x", Place: "cellar", Written: r.now,
	}
	for name, change := range map[string]func(*register.Pact){
		"a claim": func(*register.Pact) {}, "a claim of no tag": func(p *register.Pact) { p.Tag = "" },
		"a claim at no place":  func(p *register.Pact) { p.Place = "//\x00" },
		"a claim of a's wheel": func(p *register.Pact) { p.Tag = r.wheel.Tag },
		"as of a":              func(p *register.Pact) { p.From = r.a },
		"a name of a's":        func(p *register.Pact) { p.Kind, p.Name = register.Invited, "a" },
		"a name that isn't":    func(p *register.Pact) { p.Kind, p.Name = register.Invited, "X:\x00" },
		"b under another name": func(p *register.Pact) {
			p.Kind, p.Name, p.Written = register.Invited, "c", start.AddDate(-1, 0, 0)
		},
		"a under another name": func(p *register.Pact) { p.Kind, p.Site, p.Name = register.Invited, r.a, "z" },
		"a founded again":      func(p *register.Pact) { p.Kind, p.Site, p.Name = register.Founded, r.a, "z" },
		"a revoked":            func(p *register.Pact) { p.Kind, p.Site = register.Revoked, r.a },
		"b left":               func(p *register.Pact) { p.Kind, p.Number = register.Left, math.MaxUint64 },
		"b left long ago":      func(p *register.Pact) { p.Kind, p.Epoch, p.Number = register.Left, r.b.Epoch, 1 },
		"of an unknown kind":   func(p *register.Pact) { p.Kind = "nosuch" },
		"a short key":          func(p *register.Pact) { p.Kind, p.Public = register.Admitted, []byte{1} },
		"no site":              func(p *register.Pact) { p.Site = uuid.Nil },
		"settled":              func(p *register.Pact) { p.Kind, p.Of = register.Settled, newID(12) },
		"year 1":               func(p *register.Pact) { p.Written = time.Time{} },
		"year 9999":            func(p *register.Pact) { p.Written, p.Until = pack.MaxTime, pack.MaxTime },
	} {
		p := with(pact, change)
		out["a pact: "+name] = []forged{record(layout.Pacts, p.Key(), p)}
		out["a pact under no key: "+name] = []forged{record(layout.Pacts, []byte("x"), p)}
	}

	for _, bucket := range []string{layout.Book, layout.Follows, layout.Releasers, layout.Sites, layout.Mappings} {
		out[bucket+": nothing"] = []forged{text(bucket, "x", "")}
		out[bucket+": the settings"] = []forged{text(bucket, "settings", `{"zone":"Mars"}`)}
		out[bucket+": under no key"] = []forged{text(bucket, "", "{}")}
	}
	for _, n := range []int{0, 72, 40_000} {
		out[fmt.Sprintf("branches: nothing, under a key of %d bytes", n)] = []forged{
			text(layout.Branches, strings.Repeat("k", n), ""),
		}
	}
	var many []forged
	for i := range 500 {
		e := with(en, func(e *wheel.Entry) { e.Written = e.Written.Add(time.Duration(i) * time.Millisecond) })
		binary.BigEndian.PutUint32(e.ID[4:], uint32(i))
		many = append(many, entry(e))
	}
	out["hundreds of weights of a's wheel at one instant"] = many
	return out
}
