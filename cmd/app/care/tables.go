package care

import (
	"cmp"
	"context"
	"encoding/json"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/store/history"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// TableKinds are the tables of a book, by the name of the table and of a record.
var TableKinds = [][2]string{
	{"rooms", "room"}, {"plans", "plan"}, {"varieties", "variety"}, {"customers", "customer"},
	{"makes", "make"}, {"wheels", "wheel"}, {"entries", "entry"}, {"air", "air"},
}

// Tabler takes tables, one after the other: CSV files or a workbook's sheets.
// A cell is nil for none, text, a number, yes or no, a date or an instant.
type Tabler interface {
	Table(name string, head []Column) error
	Row(cells ...any) error
}

// Column is a heading, and whether instants stand under it.
type Column struct {
	Name    string
	Instant bool
}

// named are columns by their names; those of instants begin with @.
func named(names string) (out []Column) {
	return app.Each(strings.Fields(names), func(n string) Column {
		return Column{strings.TrimPrefix(n, "@"), strings.HasPrefix(n, "@")}
	})
}

// Detail is what an entry says besides its kind, in words.
type Detail func(wheel.Entry) string

// exporter fills the tables of a book.
type exporter struct {
	*app.Session
	detail Detail
	row    func(cells ...any) error
}

// Tables writes every table of the book, as it stands at one moment, to what open
// gives for the book's zone.
func Tables(ctx context.Context, a *app.App, c app.Caller, detail Detail, open func(*time.Location) Tabler) error {
	_, err := app.AskLong(ctx, a, c, func(s *app.Session) (int, error) {
		to := open(s.Zone)
		x := &exporter{s, detail, to.Row}
		for i, t := range []struct {
			head []Column
			fill func() error
		}{
			{columns[cave.Room](), x.rooms},
			{named("name title toml"), x.plans},
			{named("name title toml"), x.varieties},
			{columns[register.Customer](), x.customers},
			{append(columns[wheel.Make](), named("removed")...), x.makes},
			{append(named("lot tag_now place_now plan_now gone_on"), columns[wheel.Wheel]()...), x.wheels},
			{named("id mark of kind what @at @written by struck job weight_g before_g removed_g detail note"), x.entries},
			{named("room @at temp_c rh_pct"), x.air},
		} {
			if err := to.Table(TableKinds[i][0], t.head); err != nil {
				return 0, err
			}
			if err := cmp.Or(t.fill(), s.Ctx.Err()); err != nil {
				return 0, err
			}
		}
		return 0, nil
	})
	return err
}

// record adds a record's row, after cells of the table's own.
func (x *exporter) record(r any, own ...any) error {
	return x.row(append(own, cellsOf(reflect.ValueOf(r))...)...)
}

func (x *exporter) rooms() error {
	rooms, err := x.Tx.Rooms()
	for _, r := range rooms {
		err = cmp.Or(err, x.record(r))
	}
	return err
}

func (x *exporter) customers() error {
	cs, err := x.Tx.Customers()
	for _, c := range cs {
		err = cmp.Or(err, x.record(c))
	}
	return err
}

func (x *exporter) plans() error {
	ps, err := x.Tx.Plans()
	for _, p := range ps {
		if x.Tx.OwnPlan(p.Name) {
			err = cmp.Or(err, x.row(p.Name, p.Title, p.Text))
		}
	}
	return err
}

func (x *exporter) varieties() error {
	vs, err := x.Tx.Varieties()
	for _, v := range vs {
		if x.Tx.OwnVariety(v.Name) {
			err = cmp.Or(err, x.row(v.Name, v.Title, v.Text))
		}
	}
	return err
}

func (x *exporter) makes() error {
	return x.eachMake(func(m wheel.Make) error { return x.row(append(cellsOf(reflect.ValueOf(m)), m.Removed)...) })
}

// eachMake goes through the makes, removed ones too, until it is interrupted.
func (x *exporter) eachMake(fn func(wheel.Make) error) error {
	for m, err := range x.Tx.AllMakes() {
		if err = cmp.Or(err, x.Ctx.Err()); err == nil {
			err = fn(m)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (x *exporter) wheels() error {
	return x.eachMake(func(m wheel.Make) error {
		ws, err := x.Tx.WheelsOf(m.ID)
		if err != nil {
			return err
		}
		for _, w := range ws {
			st, err := x.Tx.State(w.ID)
			if err != nil {
				return err
			}
			if err := x.record(w, m.Lot, st.Tag, string(st.Place), st.Plan, st.Gone); err != nil {
				return err
			}
		}
		return nil
	})
}

func (x *exporter) entries() error {
	_, err := x.Tx.Log(x.Ctx, history.Query{}, func(e history.Logged, _ int) error {
		struck := ""
		if e.Struck {
			struck = "yes"
		}
		return x.row(
			e.ID.String(), e.Mark(), x.SubjectName(e.Subject), e.Kind.String(), e.Word(), e.At, e.Written, e.By, struck,
			string(e.Job), figure(e.Weight), figure(e.Before), figure(e.Removed), x.detail(e.Entry), e.Note,
		)
	})
	return err
}

// endOfTime is after every reading.
var endOfTime = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC)

func (x *exporter) air() error {
	rooms, err := x.Tx.Rooms()
	for _, r := range rooms {
		n := 0
		rerr := x.Tx.EachReading(r.Name, time.Time{}, endOfTime, func(rd cave.Reading) bool {
			if n++; n%1000 == 0 {
				err = x.Ctx.Err()
			}
			if err == nil {
				err = x.row(r.Name, rd.At, app.Rounded(float64(rd.Temp), 10), app.Rounded(rd.RH.Percent(), 10))
			}
			return err == nil
		})
		if err = cmp.Or(err, rerr); err != nil {
			return err
		}
	}
	return err
}

// columns are the headings of a record's table: the names of its fields, those
// of a field of fields after its own. What is kept as a fraction is in percent.
func columns[T any]() []Column { return columnsOf(reflect.TypeFor[T](), "") }

func columnsOf(t reflect.Type, before string) []Column {
	var out []Column
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "" || name == "-" {
			continue
		}
		switch {
		case f.Type == reflect.TypeFor[quantity.Fraction]():
			out = append(out, Column{Name: before + strings.TrimSuffix(name, "_fraction") + "_pct"})
		case isRecord(f.Type):
			out = append(out, columnsOf(f.Type, before+name+"_")...)
		default:
			out = append(out, Column{before + name, f.Type == reflect.TypeFor[time.Time]()})
		}
	}
	return out
}

// isRecord says whether a field has fields of its own to show.
func isRecord(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && t != reflect.TypeFor[time.Time]()
}

// cellsOf are a record's row under its columns.
func cellsOf(v reflect.Value) []any {
	var out []any
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name == "" || name == "-" {
			continue
		}
		optional := strings.Contains(f.Tag.Get("json"), "omitempty")
		switch x := v.Field(i).Interface().(type) {
		case quantity.Fraction:
			if x == 0 && optional {
				out = append(out, nil)
			} else {
				out = append(out, app.Rounded(x.Percent(), 10))
			}
		case time.Time, day.Date:
			out = append(out, x)
		case uuid.UUID:
			out = append(out, x.String())
		default:
			switch {
			case isRecord(f.Type):
				out = append(out, cellsOf(v.Field(i))...)
			case f.Type.Kind() == reflect.String:
				out = append(out, v.Field(i).String())
			case v.Field(i).IsZero() && optional:
				out = append(out, nil)
			case v.Field(i).CanFloat():
				out = append(out, app.Rounded(v.Field(i).Float(), 10))
			default:
				out = append(out, jsonCell(x))
			}
		}
	}
	return out
}

// jsonCell is a value as JSON has it: a whole number, yes or no, or else text.
func jsonCell(x any) any {
	j, err := json.Marshal(x)
	if err != nil {
		return nil
	}
	if n, err := strconv.Atoi(string(j)); err == nil {
		return n
	}
	if b, err := strconv.ParseBool(string(j)); err == nil {
		return b
	}
	return string(j)
}

// figure is a figure that was taken, or nothing.
func figure(g quantity.Grams) any {
	if g == 0 {
		return nil
	}
	return app.Rounded(float64(g), 10)
}
