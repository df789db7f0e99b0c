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
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
)

func (a *app) bookExportCmd() *cobra.Command {
	var dir string
	var replace bool
	c := a.cmd("export FILE | --csv DIR", "Write all of the book as text, for any other program", `
rindkeep book export cave-2026-11-25.jsonl       one JSON object a line: every fact
rindkeep book export - | gzip > cave.jsonl.gz    to standard output
rindkeep book export --csv tables/               one CSV for each sort of record
rindkeep book import cave-2026-11-25.jsonl --book new.book      an equal book`, func(cmd *cobra.Command, args []string) error {
		switch {
		case dir == "" && !cmd.Flags().Changed("csv"):
			return exactly("FILE")(cmd, args)
		case dir == "":
			return usagef("--csv needs a folder, like --csv tables/")
		case len(args) > 0:
			return usagef("give a FILE or --csv DIR, not both")
		}
		return nil
	}, func(cmd *cobra.Command, args []string) error {
		switch {
		case dir != "":
			return a.exportCSV(dir, replace)
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
	a.lines(text.Wrap(fmt.Sprintf("%s %s: %s, %.1f MB", word, safePath(path), strings.Join(words, ", "), float64(bytes)/1e6), a.env.width()))
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
	case "air":
		return text.Count(t.Count, "reading of the air", "readings of the air")
	}
	return text.Count(t.Count, t.Record)
}

// csvTable is one table being written.
type csvTable struct {
	w    *csv.Writer
	file *os.File
	path string
	rows int
}

// exportCSV writes the tables into a folder, each under another name first, so
// that no half table is seen.
func (a *app) exportCSV(dir string, replace bool) error {
	names := []string{"rooms", "plans", "varieties", "customers", "makes", "wheels", "entries", "air"}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return at(dir, fmt.Errorf("cannot make the folder %s: %s", safePath(dir), plainOS(err)))
	}
	for _, n := range names {
		p := filepath.Join(dir, n+".csv")
		if _, err := os.Lstat(p); err == nil && !replace {
			return at(p, hint(fmt.Errorf("there is a file at %s already", safePath(p)), "repeat with --replace to write over it"))
		}
	}
	sheets := map[string]*csvTable{}
	defer func() {
		for _, s := range sheets {
			s.file.Close()
			os.Remove(s.file.Name())
		}
	}()
	for _, n := range names {
		f, err := os.CreateTemp(dir, "."+n+".csv.new-*")
		if err != nil {
			return at(dir, fmt.Errorf("cannot write into %s: %s", safePath(dir), plainOS(err)))
		}
		sheets[n] = &csvTable{w: csv.NewWriter(f), file: f, path: filepath.Join(dir, n+".csv")}
	}
	if err := a.view(func(s *session) error { return s.tables(sheets) }); err != nil {
		return err
	}
	var docs []store.Tally
	var bytes int64
	for i, n := range names {
		s := sheets[n]
		s.w.Flush()
		err := errors.Join(s.w.Error(), s.file.Chmod(0o644), s.file.Sync())
		st, serr := s.file.Stat()
		if err = errors.Join(err, serr, s.file.Close()); err == nil {
			err = os.Rename(s.file.Name(), s.path)
		}
		if err != nil {
			return at(s.path, fmt.Errorf("cannot write %s: %s", safePath(s.path), plainOS(err)))
		}
		bytes += st.Size()
		docs = append(docs, store.Tally{Record: []string{"room", "plan", "variety", "customer", "make", "wheel", "entry", "air"}[i], Count: s.rows})
	}
	return a.tallyOut("book-export", "exported to the tables of", dir, docs, bytes)
}

func (s *csvTable) head(cells []string) error { return s.w.Write(cells) }

func (s *csvTable) row(cells []string) error {
	s.rows++
	return s.w.Write(cells)
}

// tables fills every table from one look at the book.
func (s *session) tables(to map[string]*csvTable) error {
	for _, fill := range []func(map[string]*csvTable) error{s.roomTable, s.ownTables, s.customerTable, s.makeTables, s.entryTable, s.airTable} {
		if err := fill(to); err != nil {
			return err
		}
		if err := s.ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}

func (s *session) roomTable(to map[string]*csvTable) error {
	sh := to["rooms"]
	if err := sh.head(s.columns(reflect.TypeFor[cave.Room](), "")); err != nil {
		return err
	}
	rooms, err := s.tx.Rooms()
	if err != nil {
		return err
	}
	for _, r := range rooms {
		if err := sh.row(s.cells(reflect.ValueOf(r))); err != nil {
			return err
		}
	}
	return nil
}

func (s *session) customerTable(to map[string]*csvTable) error {
	sh := to["customers"]
	if err := sh.head(s.columns(reflect.TypeFor[store.Customer](), "")); err != nil {
		return err
	}
	cs, err := s.tx.Customers()
	if err != nil {
		return err
	}
	for _, c := range cs {
		if err := sh.row(s.cells(reflect.ValueOf(c))); err != nil {
			return err
		}
	}
	return nil
}

func (s *session) ownTables(to map[string]*csvTable) error {
	for _, n := range []string{"plans", "varieties"} {
		if err := to[n].head([]string{"name", "title", "toml"}); err != nil {
			return err
		}
	}
	ps, err := s.tx.Plans()
	if err != nil {
		return err
	}
	for _, p := range ps {
		if s.tx.OwnPlan(p.Name) {
			if err := to["plans"].row([]string{p.Name, cell(p.Title), p.Text}); err != nil {
				return err
			}
		}
	}
	vs, err := s.tx.Varieties()
	if err != nil {
		return err
	}
	for _, v := range vs {
		if s.tx.OwnVariety(v.Name) {
			if err := to["varieties"].row([]string{v.Name, cell(v.Title), v.Text}); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *session) makeTables(to map[string]*csvTable) error {
	makes, wheels := to["makes"], to["wheels"]
	if err := makes.head(s.columns(reflect.TypeFor[wheel.Make](), "")); err != nil {
		return err
	}
	if err := wheels.head(append([]string{"lot", "tag_now", "place_now", "plan_now", "gone_on"}, s.columns(reflect.TypeFor[wheel.Wheel](), "")...)); err != nil {
		return err
	}
	for m, err := range s.tx.Makes() {
		if err == nil {
			err = s.ctx.Err()
		}
		if err != nil {
			return err
		}
		if err := makes.row(s.cells(reflect.ValueOf(m))); err != nil {
			return err
		}
		ws, err := s.tx.WheelsOf(m.ID)
		if err != nil {
			return err
		}
		for _, w := range ws {
			st, err := s.tx.Standing(w.ID)
			if err != nil {
				return err
			}
			if err := wheels.row(append([]string{m.Lot, st.Tag, string(st.Place), st.Plan, st.Gone.String()}, s.cells(reflect.ValueOf(w))...)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *session) entryTable(to map[string]*csvTable) error {
	sh := to["entries"]
	if err := sh.head([]string{"id", "mark", "of", "kind", "what", "at", "written", "by", "struck", "job", "weight_g", "before_g", "removed_g", "detail", "note"}); err != nil {
		return err
	}
	_, err := s.tx.Log(s.ctx, store.LogQuery{}, func(e store.Logged, _ int) error {
		struck := ""
		if e.Struck {
			struck = "yes"
		}
		return sh.row([]string{
			e.ID.String(), e.Mark(), cell(s.subjectName(e.Subject)), e.Kind.String(), e.Word(), instant(e.At, s.loc), instant(e.Written, s.loc), cell(e.By), struck, string(e.Job),
			figure(float64(e.Weight)), figure(float64(e.Before)), figure(float64(e.Removed)), cell(s.detail(e.Entry)), cell(e.Note),
		})
	})
	return err
}

func (s *session) airTable(to map[string]*csvTable) error {
	sh := to["air"]
	if err := sh.head([]string{"room", "at", "temp_c", "rh_pct"}); err != nil {
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
			werr = sh.row([]string{r.Name, instant(rd.At, s.loc), decimal(float64(rd.Temp)), decimal(rd.RH.Percent())})
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
func (s *session) columns(t reflect.Type, before string) []string {
	var out []string
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "" || name == "-" {
			continue
		}
		switch {
		case f.Type == reflect.TypeFor[quantity.Fraction]():
			out = append(out, before+strings.TrimSuffix(name, "_fraction")+"_pct")
		case isRecord(f.Type):
			out = append(out, s.columns(f.Type, before+name+"_")...)
		default:
			out = append(out, before+name)
		}
	}
	return out
}

// isRecord says whether a field has fields of its own to show.
func isRecord(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && t != reflect.TypeFor[time.Time]()
}

// cells are a record's row under its columns.
func (s *session) cells(v reflect.Value) []string {
	var out []string
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name == "" || name == "-" {
			continue
		}
		switch x := v.Field(i).Interface().(type) {
		case quantity.Fraction:
			if x == 0 && strings.Contains(f.Tag.Get("json"), "omitempty") {
				out = append(out, "")
			} else {
				out = append(out, decimal(x.Percent()))
			}
		case time.Time:
			if x.IsZero() {
				out = append(out, "")
			} else {
				out = append(out, instant(x, s.loc))
			}
		case uuid.UUID:
			out = append(out, x.String())
		case day.Date:
			out = append(out, x.String())
		default:
			switch {
			case isRecord(f.Type):
				out = append(out, s.cells(v.Field(i))...)
			case f.Type.Kind() == reflect.String:
				out = append(out, cell(v.Field(i).String()))
			case v.Field(i).IsZero() && strings.Contains(f.Tag.Get("json"), "omitempty"):
				out = append(out, "")
			case v.Field(i).CanFloat():
				out = append(out, decimal(v.Field(i).Float()))
			default:
				j, err := json.Marshal(x)
				if err != nil {
					j = nil
				}
				out = append(out, string(j))
			}
		}
	}
	return out
}

// figure is a figure that was taken, or nothing.
func figure(x float64) string {
	if x == 0 {
		return ""
	}
	return decimal(x)
}

func decimal(x float64) string { return strconv.FormatFloat(rounded(x, 10), 'f', -1, 64) }

// cell keeps a text from being taken for a formula by a spreadsheet: one that
// begins like one gets an apostrophe before it, as such programs write it.
func cell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
