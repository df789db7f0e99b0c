package cli

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
)

func (a *app) bookExportCmd() *cobra.Command {
	var dir, xlsx string
	var replace bool
	c := a.cmd("export FILE | --csv DIR | --xlsx FILE", "Write all of the book for any other program", `
rindkeep book export cave-2026-11-25.jsonl       one JSON object a line: every fact
rindkeep book export - | gzip > cave.jsonl.gz    to standard output
rindkeep book export --csv tables/               one CSV for each sort of record
rindkeep book export --xlsx cave.xlsx            one workbook, a sheet for each
rindkeep book import cave-2026-11-25.jsonl --book new.book      an equal book`, func(cmd *cobra.Command, args []string) error {
		tables, book := cmd.Flags().Changed("csv"), cmd.Flags().Changed("xlsx")
		switch {
		case tables && book:
			return usagef("give --csv DIR or --xlsx FILE, not both")
		case book && !isWorkbookName(xlsx):
			return usagef("--xlsx needs a file that ends in .xlsx, like --xlsx cave.xlsx")
		case tables && dir == "":
			return usagef("--csv needs a folder, like --csv tables/")
		case (tables || book) && len(args) > 0:
			return usagef("give a FILE, --csv DIR or --xlsx FILE, not both")
		case tables || book:
			return nil
		case len(args) == 1 && isWorkbookName(args[0]):
			return hint(usagef("without a flag the export is JSON, a line for each record, and no workbook"), "rindkeep book export --xlsx %s", shellWord(args[0]))
		case len(args) == 1 && strings.EqualFold(filepath.Ext(args[0]), ".csv"):
			return hint(usagef("without a flag the export is JSON, a line for each record, and no table"), "tables go into a folder, one for each sort of record: rindkeep book export --csv DIR")
		}
		return exactly("FILE")(cmd, args)
	}, func(cmd *cobra.Command, args []string) error {
		switch {
		case dir != "":
			return a.exportCSV(dir, replace)
		case xlsx != "":
			return a.exportWorkbook(xlsx, replace)
		case args[0] == "-":
			if a.json {
				return usagef("standard output takes the export itself; leave --json out")
			}
			return a.opened(store.Read, func(b *store.Book) error {
				_, err := b.Export(a.ctx, a.env.Out, nil)
				return err
			})
		}
		return a.opened(store.Read, func(b *store.Book) error {
			tally, n, err := b.ExportFile(a.ctx, args[0], replace, a.progress("exported"))
			if errors.Is(err, store.ErrExists) {
				return at(args[0], hint(err, "repeat with --replace to write over it"))
			}
			if err != nil {
				return err
			}
			return a.tallyOut("book-export", "exported to", args[0], tally, n)
		})
	})
	c.Flags().StringVar(&dir, "csv", "", "write one CSV for each sort of record into `DIR`")
	c.Flags().StringVar(&xlsx, "xlsx", "", "write one workbook with a sheet for each sort of record to `FILE`; times are of the book's zone")
	c.Flags().BoolVar(&replace, "replace", false, "write over files that are there")
	return c
}

type tallyDoc struct {
	Record string `json:"record"`
	Count  int    `json:"count"`
}

// tallyOut tells what an export or import came to.
func (a *app) tallyOut(name, word, path string, tally []store.Tally, bytes int64) error {
	docs := make([]tallyDoc, len(tally))
	var words []string
	for i, t := range tally {
		docs[i] = tallyDoc{t.Record, t.Count}
		if t.Count > 0 {
			words = append(words, recordCount(t))
		}
	}
	if len(words) == 0 {
		words = []string{"no records"}
	}
	if a.json {
		return a.document(struct {
			Schema  string     `json:"schema"`
			Path    string     `json:"path"`
			Bytes   int64      `json:"bytes"`
			Records []tallyDoc `json:"records"`
		}{schema(name), path, bytes, docs})
	}
	a.lines(text.Wrap(fmt.Sprintf("%s %s: %s, %.1f MB", word, safePath(path), strings.Join(words, ", "), float64(bytes)/1e6), a.env.Columns()))
	return nil
}

// recordCount is how many records of a sort there are, in words.
func recordCount(t store.Tally) string {
	switch t.Record {
	case "entry":
		return text.Count(t.Count, "entry", "entries")
	case "variety":
		return text.Count(t.Count, "own variety", "own varieties")
	case "plan":
		return text.Count(t.Count, "own plan")
	case "law":
		return text.Count(t.Count, "own rule")
	case "follow":
		return text.Count(t.Count, "choice of countries", "choices of countries")
	case "air":
		return text.Count(t.Count, "reading of the air", "readings of the air")
	}
	return text.Count(t.Count, t.Record)
}

// tableKinds are the tables of a book, by the name of the table and of a record.
var tableKinds = [][2]string{
	{"rooms", "room"}, {"plans", "plan"}, {"varieties", "variety"}, {"customers", "customer"}, {"makes", "make"}, {"wheels", "wheel"}, {"entries", "entry"}, {"air", "air"},
}

// tabler takes tables, one after the other: CSV files or a workbook's sheets.
// A cell is nil for none, text, a number, yes or no, a date or an instant.
type tabler interface {
	table(name string, head []column) error
	row(cells []any) error
}

// column is a heading, and whether instants stand under it.
type column struct {
	name    string
	instant bool
}

// named are columns by their names; those of instants begin with @.
func named(names ...string) []column {
	out := make([]column, len(names))
	for i, n := range names {
		out[i].name, out[i].instant = strings.TrimPrefix(n, "@"), strings.HasPrefix(n, "@")
	}
	return out
}

// csvTables writes the tables into files of a folder.
type csvTables struct {
	zone *time.Location
	open map[string]*csvTable
	*csvTable
}

// csvTable is one table being written.
type csvTable struct {
	w    *csv.Writer
	file *os.File
	path string
	rows int
}

func (c *csvTables) table(name string, head []column) error {
	c.csvTable = c.open[name]
	names := make([]string, len(head))
	for i, h := range head {
		names[i] = h.name
	}
	return c.w.Write(names)
}

func (c *csvTables) row(cells []any) error {
	c.rows++
	return c.w.Write(csvCells(cells, c.zone))
}

// csvCells are cells as text that no spreadsheet takes for a formula.
func csvCells(cells []any, zone *time.Location) []string {
	out := make([]string, len(cells))
	for i, v := range cells {
		switch v := v.(type) {
		case string:
			out[i] = console.Cell(v)
		case float64:
			out[i] = console.Decimal(v)
		case time.Time:
			if !v.IsZero() {
				out[i] = instant(v, zone)
			}
		case nil:
		default:
			out[i] = fmt.Sprint(v)
		}
	}
	return out
}

// exportCSV writes the tables into a folder, each under another name first, so
// that no half table is seen.
func (a *app) exportCSV(dir string, replace bool) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return at(dir, fmt.Errorf("cannot make the folder %s: %s", safePath(dir), plainOS(err)))
	}
	for _, k := range tableKinds {
		if err := freeToWrite(filepath.Join(dir, k[0]+".csv"), replace); err != nil {
			return err
		}
	}
	to := &csvTables{open: map[string]*csvTable{}}
	defer func() {
		for _, s := range to.open {
			s.file.Close()
			os.Remove(s.file.Name())
		}
	}()
	for _, k := range tableKinds {
		f, err := os.CreateTemp(dir, "."+k[0]+".csv.new-*")
		if err != nil {
			return at(dir, fmt.Errorf("cannot write into %s: %s", safePath(dir), plainOS(err)))
		}
		to.open[k[0]] = &csvTable{w: csv.NewWriter(f), file: f, path: filepath.Join(dir, k[0]+".csv")}
	}
	if err := a.look(func(s *session) error {
		to.zone = s.loc
		return s.tables(to)
	}); err != nil {
		return err
	}
	var docs []store.Tally
	var bytes int64
	for _, k := range tableKinds {
		s := to.open[k[0]]
		s.w.Flush()
		n, err := placed(s.file, s.path, s.w.Error())
		if err != nil {
			return err
		}
		bytes += n
		docs = append(docs, store.Tally{Record: k[1], Count: s.rows})
	}
	return a.tallyOut("book-export", "exported to the tables of", dir, docs, bytes)
}

// tables fills every table from one look at the book.
func (s *session) tables(to tabler) error {
	for _, fill := range []func(tabler) error{s.roomTable, s.planTable, s.varietyTable, s.customerTable, s.makeTable, s.wheelTable, s.entryTable, s.airTable} {
		if err := fill(to); err != nil {
			return err
		}
		if err := s.ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}

// records is a table with a row for each record.
func records[T any](to tabler, name string, all []T, err error) error {
	if err != nil {
		return err
	}
	if err := to.table(name, columns(reflect.TypeFor[T](), "")); err != nil {
		return err
	}
	for _, r := range all {
		if err := to.row(cellsOf(reflect.ValueOf(r))); err != nil {
			return err
		}
	}
	return nil
}

func (s *session) roomTable(to tabler) error {
	rooms, err := s.tx.Rooms()
	return records(to, "rooms", rooms, err)
}

func (s *session) customerTable(to tabler) error {
	cs, err := s.tx.Customers()
	return records(to, "customers", cs, err)
}

func (s *session) planTable(to tabler) error {
	if err := to.table("plans", named("name", "title", "toml")); err != nil {
		return err
	}
	ps, err := s.tx.Plans()
	if err != nil {
		return err
	}
	for _, p := range ps {
		if s.tx.OwnPlan(p.Name) {
			if err := to.row([]any{p.Name, p.Title, p.Text}); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *session) varietyTable(to tabler) error {
	if err := to.table("varieties", named("name", "title", "toml")); err != nil {
		return err
	}
	vs, err := s.tx.Varieties()
	if err != nil {
		return err
	}
	for _, v := range vs {
		if s.tx.OwnVariety(v.Name) {
			if err := to.row([]any{v.Name, v.Title, v.Text}); err != nil {
				return err
			}
		}
	}
	return nil
}

// eachMake goes through the makes until it is interrupted.
func (s *session) eachMake(fn func(wheel.Make) error) error {
	for m, err := range s.tx.Makes() {
		if err == nil {
			err = s.ctx.Err()
		}
		if err == nil {
			err = fn(m)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (s *session) makeTable(to tabler) error {
	if err := to.table("makes", columns(reflect.TypeFor[wheel.Make](), "")); err != nil {
		return err
	}
	return s.eachMake(func(m wheel.Make) error { return to.row(cellsOf(reflect.ValueOf(m))) })
}

func (s *session) wheelTable(to tabler) error {
	if err := to.table("wheels", append(named("lot", "tag_now", "place_now", "plan_now", "gone_on"), columns(reflect.TypeFor[wheel.Wheel](), "")...)); err != nil {
		return err
	}
	return s.eachMake(func(m wheel.Make) error {
		ws, err := s.tx.WheelsOf(m.ID)
		if err != nil {
			return err
		}
		for _, w := range ws {
			st, err := s.tx.State(w.ID)
			if err != nil {
				return err
			}
			if err := to.row(append([]any{m.Lot, st.Tag, string(st.Place), st.Plan, st.Gone}, cellsOf(reflect.ValueOf(w))...)); err != nil {
				return err
			}
		}
		return nil
	})
}

func (s *session) entryTable(to tabler) error {
	if err := to.table("entries", named("id", "mark", "of", "kind", "what", "@at", "@written", "by", "struck", "job", "weight_g", "before_g", "removed_g", "detail", "note")); err != nil {
		return err
	}
	_, err := s.tx.Log(s.ctx, store.LogQuery{}, func(e store.Logged, _ int) error {
		struck := ""
		if e.Struck {
			struck = "yes"
		}
		return to.row([]any{
			e.ID.String(), e.Mark(), s.subjectName(e.Subject), e.Kind.String(), e.Word(), e.At, e.Written, e.By, struck, string(e.Job),
			figure(float64(e.Weight)), figure(float64(e.Before)), figure(float64(e.Removed)), s.detail(e.Entry), e.Note,
		})
	})
	return err
}

func (s *session) airTable(to tabler) error {
	if err := to.table("air", named("room", "@at", "temp_c", "rh_pct")); err != nil {
		return err
	}
	rooms, err := s.tx.Rooms()
	if err != nil {
		return err
	}
	for _, r := range rooms {
		var werr error
		n := 0
		if err := s.tx.EachReading(r.Name, time.Time{}, time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC), func(rd cave.Reading) bool {
			if n++; n%1000 == 0 && s.ctx.Err() != nil {
				return false
			}
			werr = to.row([]any{r.Name, rd.At, rounded(float64(rd.Temp), 10), rounded(rd.RH.Percent(), 10)})
			return werr == nil
		}); err != nil {
			return err
		}
		if werr != nil {
			return werr
		}
	}
	return nil
}

// columns are the headings of a record's table: the names of its fields, those
// of a field of fields after its own. What is kept as a fraction is in percent.
func columns(t reflect.Type, before string) []column {
	var out []column
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "" || name == "-" {
			continue
		}
		switch {
		case f.Type == reflect.TypeFor[quantity.Fraction]():
			out = append(out, column{name: before + strings.TrimSuffix(name, "_fraction") + "_pct"})
		case isRecord(f.Type):
			out = append(out, columns(f.Type, before+name+"_")...)
		default:
			out = append(out, column{before + name, f.Type == reflect.TypeFor[time.Time]()})
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
				out = append(out, rounded(x.Percent(), 10))
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
				out = append(out, rounded(v.Field(i).Float(), 10))
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
func figure(x float64) any {
	if x == 0 {
		return nil
	}
	return rounded(x, 10)
}
