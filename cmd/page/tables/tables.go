// Package tables takes the tables that people bring to the page, CSV or XLSX: it reads
// them with cmd/intake, hands them to the use cases of wheels, weights, air and
// laboratory results, and says how they were understood and what is wrong with them.
package tables

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/app/tables"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/words"
	"rindkeep/cmd/workbook"
	"rindkeep/store/register"
	model "rindkeep/wheel/drying"
)

// Request asks to take a table into the book.
type Request struct {
	Given register.Mapping // what is said of the table; what it says is kept in the mapping that it names
	Name  string           // of the file
	File  []byte
	Sheet string // of a workbook; "": its first
	Room  string // of the air
	Why   string // needed where a safety hold ends with it
	Sure  bool
	Try   bool // only say what would come of it
}

// Answer is what a table came to, or would come to.
type Answer struct {
	Schema   string           `json:"schema"`
	Table    string           `json:"table"`
	Try      bool             `json:"dry_run"`
	Headings []intake.Heading `json:"headings"`
	Fields   []string         `json:"fields"` // that a column can be given to
	Head     []string         `json:"head"`   // of the sample
	Sample   [][]string       `json:"sample"` // the first rows, as they were understood
	Said     []string         `json:"said"`
	Room     string           `json:"room,omitempty"`
}

// Group is problems of a table that are alike, as the page tells them.
type Group struct {
	Words string   `json:"words"`
	Where []string `json:"where"` // the first of them
	Rows  int      `json:"rows"`
	More  int      `json:"more"` // others of its kind in that column that aren't told
	Code  string   `json:"code"`
	Sure  bool     `json:"sure"` // it only looks wrong
}

// Question is what the sender can say about a table that can't be taken as it is.
type Question struct {
	Name    string      `json:"name"` // the field that answers it; kinds.WORD for one word
	Words   string      `json:"words"`
	Options [][2]string `json:"options"`
	Value   string      `json:"value"`
}

// Faulty is a table that can't be taken as it is. Nothing of it was recorded.
type Faulty struct {
	Words     string           `json:"-"`
	Headings  []intake.Heading `json:"headings"`
	Fields    []string         `json:"fields"`
	Problems  []Group          `json:"problems"`
	Questions []Question       `json:"questions"`
}

// Error is for logs and tests.
func (f Faulty) Error() string { return f.Words }

// MostRows is the most rows of weights that the page takes: more are for the command line,
// which shows how far it has come.
const MostRows = 100_000

// taking is a table on its way.
type taking struct {
	Request
	ctx    context.Context
	app    *app.App
	caller app.Caller
	words  words.Printer
	as     register.Mapping // how it's read
	out    Answer
}

// how is what was said of the table beyond its headings.
func (t *taking) how() intake.How { return intake.How{Columns: t.as.Columns, Unit: t.as.Unit} }

// Take takes a table into the book, or says what would come of it. What is wrong with the
// table is a Faulty.
func Take(ctx context.Context, a *app.App, c app.Caller, p words.Printer, q Request) (Answer, error) {
	t := taking{Request: q, ctx: ctx, app: a, caller: c, words: p, out: Answer{
		Schema: app.Schema("table"), Table: q.Given.Of, Try: q.Try, Headings: []intake.Heading{},
		Fields: tables.Sorts[q.Given.Of].Fields, Head: []string{}, Sample: [][]string{}, Room: q.Room,
	}}
	take := map[string]func() error{
		register.OfWheels: t.wheels, register.OfWeights: t.weights, register.OfAir: t.air, register.OfResults: t.results,
	}[q.Given.Of]
	if take == nil {
		return t.out, app.Misuse("table", reason.Unknown{
			What: "table", Word: q.Given.Of, Known: "wheels, weights, air, results",
		})
	}
	news := q.Given.Name != "" && !tables.Empty(q.Given)
	if news {
		if err := q.Given.Check(); err != nil {
			return t.out, app.At("mapping", err)
		}
	}
	var err error
	if t.as, err = tables.Find(ctx, a, c, q.Given); err != nil {
		return t.out, err
	}
	in, err := t.open()
	if err != nil {
		return t.out, err
	}
	if heads, err := tables.Sorts[q.Given.Of].Understood(in, t.as.Columns); err == nil && heads != nil {
		t.out.Headings = heads
	}
	if err = take(); err != nil {
		return t.out, t.faulty(err)
	}
	if news && !q.Try {
		c.ID = "" // the table's
		_, err = tables.Keep(ctx, a, c, t.as)
	}
	return t.out, err
}

// open opens the table: text, or the sheet of a workbook.
func (t *taking) open() (io.ReadCloser, error) {
	r := bytes.NewReader(t.File)
	if !workbook.Is(t.File[:min(4, len(t.File))]) {
		if t.Sheet != "" {
			return nil, app.Misuse("sheet", intake.Said{Words: "only an XLSX workbook has sheets"})
		}
		return io.NopCloser(r), nil
	}
	b, err := workbook.Open(t.ctx, r, r.Size())
	if err != nil {
		return nil, app.At("file", err)
	}
	s, err := b.Sheet(t.Sheet)
	if err != nil {
		return nil, app.At("sheet", err)
	}
	return sheet{s}, nil
}

// sheet is a sheet for intake, which reads it by its rows.
type sheet struct{ *workbook.Sheet }

// Read is not what a sheet is read by.
func (sheet) Read([]byte) (int, error) { return 0, errors.New("a sheet is read by its rows") }

// Close has nothing to close.
func (sheet) Close() error { return nil }

func (t *taking) wheels() error {
	in, err := t.open()
	if err != nil {
		return err
	}
	q := care.Wheels{Sure: t.Sure, Try: t.Try, Kinds: t.as.Kinds}
	if q.Table, q.Bad, err = intake.Wheels(in, t.how()); err != nil {
		return err
	}
	if len(q.Table.Rows) == 0 && len(q.Bad) > 0 {
		return intake.Problems(q.Bad)
	}
	d, err := care.ImportWheels(t.ctx, t.app, t.caller, q)
	if err != nil || t.known(d.Known) {
		return err
	}
	t.out.Said = append([]string{t.words.TakenWheels(d.Result)}, t.words.TakenLacks(d.Result)...)
	t.out.Head = []string{
		"wheel", "", "lot", "made", "variety", "place", "green weight", "weight", "weighed", "supplier", "coat",
	}
	for _, r := range d.Result.Sample {
		fresh := ""
		if r.New {
			fresh = "new"
		}
		t.out.Sample = append(t.out.Sample, []string{r.Tag, fresh, r.Lot, r.Made, r.Variety, said(r.Place),
			t.weight(r.Green), t.weight(r.Weight), said(r.Weighed), said(r.Supplier), said(r.Coat)})
	}
	return nil
}

func (t *taking) weight(g *float64) string {
	if g == nil {
		return ""
	}
	return t.words.Weight(quantity.Grams(*g))
}

func said(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

// known says that the table was recorded before under the same ID.
func (t *taking) known(k *app.Known) bool {
	if k != nil {
		t.out.Said = []string{"no change: already recorded"}
	}
	return k != nil
}

// sampled is how many rows are shown as they were understood: our choice.
const sampled = 5

func (t *taking) weights() error {
	in, err := t.open()
	if err != nil {
		return err
	}
	rows, err := intake.OpenWeights(in, t.how())
	if err != nil {
		return err
	}
	var bad intake.Problems
	q := drying.Weights{Sure: t.Sure, Brief: true}
	for {
		r, wrong, err := rows.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if bad = append(bad, wrong...); len(wrong) == 0 {
			q.Rows = append(q.Rows, r)
		}
		if len(q.Rows) > MostRows {
			return app.Refuse(intake.Said{Words: fmt.Sprintf("it has over %d rows; record it on the command line, which "+
				"shows how far it has come: rindkeep weigh --from FILE", MostRows)}).In("file")
		}
	}
	take := func(s *app.Session) (drying.Weighed, error) {
		d, err := drying.TakeRows(s, q)
		var more intake.Problems
		if err != nil && !errors.As(err, &more) {
			return d, err
		}
		if bad = append(bad, more...); len(bad) > 0 {
			slices.SortStableFunc(bad, func(a, b intake.Problem) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
			return d, bad
		}
		return d, nil
	}
	d := app.Did[drying.Weighed]{}
	if t.Try {
		d.Result, err = app.Try(t.ctx, t.app, t.caller, take)
	} else if err = t.app.BackupFirst(t.ctx, false); err == nil {
		d, err = app.Act(t.ctx, t.app, t.caller, take)
	}
	if err != nil || t.known(d.Known) {
		return err
	}
	t.out.Said = []string{t.tried(t.words.WeighedTotal(d.Result))}
	t.out.Head = []string{"wheel", "weight", "when", "loss, %", ""}
	for _, r := range d.Result.Results[:min(sampled, len(d.Result.Results))] {
		loss, note := "", words.Standing(model.Verdict(r.Standing))
		if r.Loss != nil {
			loss = fmt.Sprintf("%.1f", *r.Loss)
		}
		if r.NoChange {
			note = "in the book already"
		}
		t.out.Sample = append(t.out.Sample, []string{r.Wheel, t.words.Weight(r.Weight), r.At[:10], loss, note})
	}
	return nil
}

// tried says what would be recorded, where nothing was.
func (t *taking) tried(s string) string {
	if t.Try {
		return strings.Replace(s, "recorded", "would record", 1)
	}
	return s
}

func (t *taking) results() error {
	in, err := t.open()
	if err != nil {
		return err
	}
	q := makes.Results{Try: t.Try}
	if q.Rows, q.Bad, err = intake.Results(in, t.how()); err != nil {
		return err
	}
	if len(q.Rows) == 0 {
		return intake.Problems(q.Bad)
	}
	d, err := makes.EnterResults(t.ctx, t.app, t.caller, q)
	if err != nil || t.known(d.Known) {
		return err
	}
	t.out.Said = []string{t.tried(fmt.Sprintf("recorded %d of %d results; %d in the book already", d.Result.Entered,
		d.Result.Rows, d.Result.Known))}
	t.out.Head = []string{"lot", "sample", "test", "result", "within limits"}
	for _, r := range d.Result.Results[:min(sampled, len(d.Result.Results))] {
		within := map[bool]string{true: "yes", false: "NO, or not judged: the hold stays"}[r.Inside]
		t.out.Sample = append(t.out.Sample, []string{r.Lot, r.Sample, r.Test, r.Result, within})
	}
	for _, r := range d.Result.Results {
		if !t.Try {
			t.out.Said = append(t.out.Said, t.words.Resulted(r)...)
		}
	}
	return nil
}

func (t *taking) air() error {
	if t.Room == "" {
		return app.Misuse("room", reason.Missing{What: "room"})
	}
	air, err := tables.AirOf(t.as, t.open)
	if err != nil {
		return err
	}
	t.out.Head = []string{"time", "temperature", "humidity"}
	got, err := rooms.ImportAir(t.ctx, t.app, t.caller,
		rooms.Load{Room: t.Room, File: t.Name, Try: t.Try, Sure: t.Sure, Why: t.Why},
		func(zone *time.Location, each func(cave.Reading) error) error {
			t.out.Sample = t.out.Sample[:0]
			return air.Read(zone, func(rd cave.Reading) error {
				if len(t.out.Sample) < sampled {
					t.out.Sample = append(t.out.Sample, []string{
						rd.At.In(zone).Format("2006-01-02 15:04"), t.words.Temp(rd.Temp), t.words.RH(rd.RH),
					})
				}
				return each(rd)
			})
		})
	if err != nil {
		switch r := app.AsRefusal(err); r.Why.(type) {
		case rooms.OddReading, rooms.FutureReading:
			return intake.Problems{{Line: air.Row, Why: r}}
		}
		return err
	}
	rep := air.Report
	at := func(x time.Time) string { return x.In(got.Zone).Format("2006-01-02 15:04") }
	s := fmt.Sprintf("recorded %d readings of %s, %s to %s", rep.Rows, got.Room, at(rep.First), at(rep.Last))
	if !t.Try {
		s += fmt.Sprintf(": %d new", got.Added)
	}
	t.out.Said = []string{t.tried(s), "temperatures in °" + cmp.Or(rep.Suffix, "C")}
	for _, x := range []struct {
		n    int
		what string
	}{
		{rep.Blank, "rows without a reading are left out"}, {rep.Twice, "rows have the same time as the row before"},
		{rep.Back, "rows are older than the row before"}, {rep.Gaps, "gaps are longer than three times the usual step"},
	} {
		if x.n > 0 {
			t.out.Said = append(t.out.Said, fmt.Sprintf("%d %s", x.n, x.what))
		}
	}
	return nil
}
