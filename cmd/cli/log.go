package cli

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	roundcmd "rindkeep/cmd/cli/round"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
)

// logFlags are what the log was asked for.
type logFlags struct {
	from, to, person string
	jobs, kinds      []string
	struck, byDay    bool
	most             int

	anybody, mostGiven bool
}

func (a *app) logCmd() *cobra.Command {
	var f logFlags
	c := a.cmd("log [WHAT...]", "What was written down: who, what, when", `
rindkeep log                                     the last entries of the book
rindkeep log 261120A --most 0                    all that befell a lot, gone wheels too
rindkeep log --person Nora --from mon
rindkeep log --job turn,brush --on yesterday
rindkeep log --struck                            what was withdrawn
rindkeep log --by-day --from 2026-11-01          by day and person, for the inspector`, cobra.ArbitraryArgs, func(cmd *cobra.Command, args []string) error {
		f.anybody, f.mostGiven = !cmd.Flags().Changed("person"), cmd.Flags().Changed("most")
		switch {
		case f.most < 0:
			return usagef("--most %d is no number of entries; give 1 or more, or 0 for all", f.most)
		case f.byDay && f.mostGiven:
			return usagef("--by-day lists whole days; leave --most out")
		case a.at != "":
			return usagef("the log goes by whole days; give --on DATE, or --from and --to")
		case a.on != "" && f.from+f.to != "":
			return usagef("give --on for one day, or --from and --to, not both")
		}
		held := &reservoir{w: a.env.Out}
		a.env.Out = held
		if err := a.look(func(s *session) error { return s.showLog(args, &f) }); err != nil {
			return err
		}
		return held.let()
	})
	fl := c.Flags()
	fl.StringVar(&f.from, "from", "", "from `DATE` on")
	fl.StringVar(&f.to, "to", "", "up to and with `DATE`")
	fl.StringVar(&f.person, "person", "", "only what `NAME` wrote; \"\" for entries without a name")
	fl.StringSliceVar(&f.jobs, "job", nil, "only these `JOBS`, done or passed over")
	fl.StringSliceVar(&f.kinds, "kind", nil, "only these `KINDS` of entry: weighed, moved, struck, …")
	fl.BoolVar(&f.struck, "struck", false, "only entries that were withdrawn")
	fl.IntVar(&f.most, "most", 50, "the newest `N`, 0 for all; with --json all unless said")
	fl.BoolVar(&f.byDay, "by-day", false, "sum up by day and person")
	fl.SortFlags = false
	a.completes(c, "job", func(*session) []string { return roundcmd.JobNames() })
	a.completes(c, "kind", func(*session) []string { return kindNames() })
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

// reservoir keeps what is printed back, so that a reader who takes their time
// does not hold the book, up to a bound: what is more goes on as it comes.
type reservoir struct {
	w    io.Writer
	held bytes.Buffer
	open bool
}

// mostHeld bounds a reservoir, in bytes.
const mostHeld = 8 << 20

// Write keeps b, or passes it on once too much was kept.
func (r *reservoir) Write(b []byte) (int, error) {
	if r.open {
		return r.w.Write(b)
	}
	r.held.Write(b)
	if r.held.Len() < mostHeld {
		return len(b), nil
	}
	return len(b), r.let()
}

// let passes on what was kept, and from now on everything.
func (r *reservoir) let() error {
	r.open = true
	_, err := r.held.WriteTo(r.w)
	return err
}

func kindNames() []string {
	var out []string
	for k := range 256 {
		if kind := wheel.Kind(k); kind.Known() {
			out = append(out, kind.String())
		}
	}
	return out
}

// jobDone is the job that an entry records, whatever its kind.
func jobDone(e wheel.Entry) wheel.Job {
	switch e.Kind {
	case wheel.Did, wheel.Skipped:
		return e.Job
	case wheel.Weighed:
		return wheel.Weigh
	case wheel.Cored, wheel.Tasted:
		return wheel.Taste
	case wheel.CoatedOn:
		return wheel.Coat
	case wheel.Moved:
		return wheel.Move
	case wheel.Checked:
		return wheel.Check
	}
	return ""
}

// logQuery is what the flags and words ask of the book.
func (s *session) logQuery(words []string, f *logFlags) (store.LogQuery, error) {
	q := store.LogQuery{Most: f.most}
	if s.json && !f.mostGiven {
		q.Most = 0
	}
	from, to := f.from, f.to
	if s.on != "" {
		from, to = s.on, s.on
	}
	for _, x := range []struct {
		flag, word string
		to         *time.Time
		after      day.Date // whole days
	}{{"--from", from, &q.From, 0}, {"--to", to, &q.To, 1}} {
		if x.word == "" {
			continue
		}
		d, err := day.ParsePast(x.word, s.today)
		if err != nil {
			return q, at(x.flag, usageError{Msg: x.flag + " " + err.Error()})
		}
		*x.to = (d + x.after).Start(s.loc)
	}
	if !q.From.IsZero() && !q.To.IsZero() && !q.From.Before(q.To) {
		return q, at("--to", usagef("--to %s is before --from %s", safeWord(to), safeWord(from)))
	}
	jobs := map[wheel.Job]bool{}
	for _, w := range f.jobs {
		j, err := wheel.ParseJob(w)
		if err != nil {
			return q, at("--job", usageError{Msg: err.Error()})
		}
		jobs[j] = true
	}
	kinds := map[string]bool{}
	for _, w := range f.kinds {
		w = strings.ToLower(strings.TrimSpace(w))
		if !slices.Contains(kindNames(), w) {
			return q, at("--kind", usagef("no kind of entry %q; kinds are %s", safeWord(w), strings.Join(kindNames(), ", ")))
		}
		kinds[w] = true
	}
	q.Match = func(e store.Logged) bool {
		switch {
		case !f.anybody && !strings.EqualFold(e.By, strings.TrimSpace(f.person)),
			f.struck && !e.Struck,
			len(jobs) > 0 && !jobs[jobDone(e.Entry)],
			len(kinds) > 0 && !kinds[e.Kind.String()]:
			return false
		}
		return true
	}
	var err error
	q.Subjects, err = s.logSubjects(words)
	return q, err
}

// logSubjects finds the wheels and makes that the words name, those that are
// gone with them; nil for everything.
func (s *session) logSubjects(words []string) ([]uuid.UUID, error) {
	var out []uuid.UUID
	seen := map[uuid.UUID]bool{}
	add := func(id uuid.UUID) {
		if !seen[id] {
			seen[id] = true
			out = append(out, id)
		}
	}
	for _, group := range words {
		for _, word := range strings.Split(group, ",") {
			word = strings.TrimSpace(word)
			if strings.EqualFold(word, "all") {
				return nil, nil
			}
			if word == "" {
				continue
			}
			if s.safeName(word) {
				if m, err := s.tx.MakeByLot(word); err == nil && !s.tx.HasTag(word) {
					ws, err := s.tx.WheelsOf(m.ID)
					if err != nil {
						return nil, err
					}
					add(m.ID)
					for _, w := range ws {
						add(w.ID)
					}
					continue
				} else if err != nil && !isNotFound(err) {
					return nil, err
				}
				if prefix, ok := strings.CutSuffix(word, "*"); ok && !strings.ContainsAny(prefix, "*/") {
					ws, err := s.tx.TagsStarting(prefix)
					if err != nil {
						return nil, err
					}
					for _, w := range ws {
						add(w.Wheel)
					}
					if len(ws) > 0 {
						continue
					}
				}
			}
			ws, err := s.pickWord(word)
			if err != nil {
				return nil, err
			}
			for _, w := range ws {
				add(w.Wheel)
			}
		}
	}
	if len(words) == 0 {
		return nil, nil
	}
	if out == nil {
		out = []uuid.UUID{} // a place where nothing lies: nothing, not everything
	}
	return out, nil
}

func (s *session) safeName(word string) bool { return len(word) <= maxWord && text.Safe(word) == word }

func (s *session) showLog(words []string, f *logFlags) error {
	q, err := s.logQuery(words, f)
	if err != nil {
		return err
	}
	switch {
	case f.byDay:
		return s.logByDay(q)
	case s.json:
		return s.logJSON(q)
	}
	return s.logText(q)
}

// logEntry is an entry of the log in JSON.
type logEntry struct {
	Of   string `json:"of"` // tag, or "lot" and the lot
	Kind string `json:"kind"`
	entryDoc
}

// logJSON writes one document, an entry at a time.
func (s *session) logJSON(q store.LogQuery) error {
	begin := func(total int) {
		s.print("{\n  \"schema\": %q,\n  \"matched\": %d,\n  \"entries\": [", schema("log"), total)
	}
	n := 0
	total, err := s.tx.Log(s.ctx, q, func(e store.Logged, total int) error {
		if n == 0 {
			begin(total)
		} else {
			s.print(",")
		}
		n++
		var b bytes.Buffer
		enc := json.NewEncoder(&b)
		enc.SetEscapeHTML(false)
		enc.SetIndent("    ", "  ")
		if err := enc.Encode(logEntry{s.subjectName(e.Subject), e.Kind.String(), s.entryDocOf(e.Entry, e.Struck)}); err != nil {
			return err
		}
		s.print("\n    %s", bytes.TrimRight(b.Bytes(), "\n"))
		return nil
	})
	if err != nil {
		return err
	}
	if n == 0 {
		begin(total)
		s.print("]\n}\n")
		return nil
	}
	s.print("\n  ]\n}\n")
	return nil
}

// rowsTogether is how many rows of a day are laid out in one table.
const rowsTogether = 500

func (s *session) logText(q store.LogQuery) error {
	var t text.Table
	on, n := day.None, 0
	flush := func() {
		s.lines(t.Lines(s.env.Columns()))
		t = text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}, {}, {}, {}}}
	}
	flush()
	total, err := s.tx.Log(s.ctx, q, func(e store.Logged, total int) error {
		d := day.At(e.At, s.loc)
		if d != on {
			flush()
			if on != day.None {
				s.print("\n")
			}
			s.print("%s\n", s.style("1")(d.Long()))
			on = d
		}
		n++
		words := strings.TrimSpace(e.Word() + " " + s.detail(e.Entry))
		if e.Note != "" {
			words += "; " + text.Safe(e.Note)
		}
		if e.Struck {
			words = "STRUCK " + words
		}
		written := "written " + e.Written.In(s.loc).Format("15:04")
		if day.At(e.Written, s.loc) != d {
			written = "written " + e.Written.In(s.loc).Format("2 Jan 2006")
		}
		t.Add(e.At.In(s.loc).Format("15:04"), s.subjectName(e.Subject), words, text.Safe(e.By), e.Mark(), written)
		if len(t.Rows) >= rowsTogether {
			flush()
		}
		return nil
	})
	if err != nil {
		return err
	}
	flush()
	switch {
	case total == 0:
		s.print("no such entries\n")
	case n < total:
		s.next("\nthe newest %d of %d; --most 0 for all", n, total)
	default:
		s.next("\n%s", text.Count(total, "entry", "entries"))
	}
	return nil
}

// personDay is what one person did on one day.
type personDay struct {
	Date    day.Date
	Person  string
	Entries int
	Struck  int
	Late    int // written on a later day than they happened
	First   time.Time
	Last    time.Time
	Did     map[string]int
}

type logDayDoc struct {
	Date    string       `json:"date"`
	Person  string       `json:"person"`
	Entries int          `json:"entries"`
	Struck  int          `json:"struck"`
	Late    int          `json:"written_later"`
	First   string       `json:"first"`
	Last    string       `json:"last"`
	Did     []logDoneDoc `json:"did"`
}

type logDoneDoc struct {
	What  string `json:"what"`
	Count int    `json:"count"`
}

// logByDay sums the log up. What was withdrawn counts apart and not as done.
func (s *session) logByDay(q store.LogQuery) error {
	type key struct {
		d   day.Date
		who string
	}
	sums := map[key]*personDay{}
	if err := s.tx.EachLogged(s.ctx, q, func(e store.Logged) error {
		k := key{day.At(e.At, s.loc), e.By}
		p := sums[k]
		if p == nil {
			p = &personDay{Date: k.d, Person: k.who, First: e.At, Last: e.At, Did: map[string]int{}}
			sums[k] = p
		}
		p.Entries++
		if e.Struck {
			p.Struck++
		} else {
			p.Did[e.Word()]++
		}
		if day.At(e.Written, s.loc) > k.d {
			p.Late++
		}
		if e.At.Before(p.First) {
			p.First = e.At
		}
		if e.At.After(p.Last) {
			p.Last = e.At
		}
		return nil
	}); err != nil {
		return err
	}
	days := make([]*personDay, 0, len(sums))
	for _, p := range sums {
		days = append(days, p)
	}
	slices.SortFunc(days, func(a, b *personDay) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), strings.Compare(strings.ToLower(a.Person), strings.ToLower(b.Person)), strings.Compare(a.Person, b.Person))
	})
	docs := make([]logDayDoc, 0, len(days))
	for _, p := range days {
		d := logDayDoc{p.Date.String(), p.Person, p.Entries, p.Struck, p.Late, instant(p.First, s.loc), instant(p.Last, s.loc), []logDoneDoc{}}
		for w, n := range p.Did {
			d.Did = append(d.Did, logDoneDoc{w, n})
		}
		slices.SortFunc(d.Did, func(a, b logDoneDoc) int { return cmp.Or(b.Count-a.Count, strings.Compare(a.What, b.What)) })
		docs = append(docs, d)
	}
	if s.json {
		return s.document(struct {
			Schema string      `json:"schema"`
			Days   []logDayDoc `json:"days"`
		}{schema("log-days"), docs})
	}
	if len(docs) == 0 {
		s.print("no such entries\n")
		return nil
	}
	t := text.Table{Columns: []text.Column{{Title: "day"}, {Title: "person"}, {Title: "entries", Right: true}, {Title: "from"}, {Title: "to"}, {Title: "did", Wrap: true}}}
	for i, d := range docs {
		var w []string
		for _, x := range d.Did {
			w = append(w, fmt.Sprintf("%s %d", x.What, x.Count))
		}
		if d.Struck > 0 {
			w = append(w, fmt.Sprintf("withdrawn since %d", d.Struck))
		}
		if d.Late > 0 {
			w = append(w, fmt.Sprintf("written on a later day %d", d.Late))
		}
		who := text.Safe(d.Person)
		if who == "" {
			who = "(no name)"
		}
		t.Add(d.Date, who, fmt.Sprint(d.Entries), days[i].First.In(s.loc).Format("15:04"), days[i].Last.In(s.loc).Format("15:04"), strings.Join(w, ", "))
	}
	s.lines(t.Lines(s.env.Columns()))
	return nil
}
