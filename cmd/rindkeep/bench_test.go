package main

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// BenchmarkSizes prints one table of what the program costs in books of growing size, as
// whole processes, and what SQLite (the sqlite3 command) and a plain web page cost for the same
// on the same machine:
//
//	RINDKEEP_SIZES=1000,10000,100000 go test ./cmd/rindkeep -run '^$' -bench Sizes -benchtime 1x -timeout 5h
//
// These sizes are the usual ones; a million has to be asked for. RINDKEEP_ROWS takes some rows of
// the table, by words of their names with commas between, and RINDKEEP_BOOKS a folder that may have
// the books already, 100000.book for one: a large one takes long to make.
func BenchmarkSizes(b *testing.B) {
	for b.Loop() {
		sizes := cmp.Or(os.Getenv("RINDKEEP_SIZES"), "1000,10000,100000")
		var all []*sized
		for word := range strings.SplitSeq(sizes, ",") {
			n, err := strconv.Atoi(word)
			if err != nil {
				b.Fatal(err)
			}
			all = append(all, measure(b, n))
			fmt.Fprint(os.Stderr, tableOf(all), "\n")
		}
	}
}

// cost is the median of a few runs: CPU time of the process, all threads, user and system.
type cost struct {
	cpu  time.Duration
	peak float64 // MiB
}

// sized is what was measured in a book of one size.
type sized struct {
	wheels int
	order  []string
	own    map[string]cost
	peer   map[string]cost
}

// tableOf is in Markdown: milliseconds of CPU and mebibytes, and the peer's with the ratio.
func tableOf(all []*sized) string {
	var b strings.Builder
	head, rule := "| what |", "|---|"
	for _, s := range all {
		head += fmt.Sprintf(" %d wheels | peer |", s.wheels)
		rule += "---|---|"
	}
	fmt.Fprintf(&b, "%s\n%s\n", head, rule)
	for _, what := range all[0].order {
		fmt.Fprintf(&b, "| %s |", what)
		for _, s := range all {
			own, peer := s.own[what], s.peer[what]
			fmt.Fprintf(&b, " %s, %.0f |", millis(own.cpu), own.peak)
			if peer.cpu == 0 {
				b.WriteString(" - |")
				continue
			}
			fmt.Fprintf(&b, " %s (%.1f) |", millis(peer.cpu), float64(own.cpu)/float64(peer.cpu))
		}
		b.WriteString("\n")
	}
	return b.String()
}

func millis(d time.Duration) string {
	ms := float64(d.Microseconds()) / 1000
	if ms < 10 {
		return fmt.Sprintf("%.1f", ms)
	}
	return fmt.Sprintf("%.0f", ms)
}

// bench measures one book and the peer's database of the same wheels.
type bench struct {
	*cave
	out    *sized
	db     string
	tags   []string
	sqlite bool
}

func measure(b *testing.B, wheels int) *sized {
	m := &bench{cave: newCave(b), out: &sized{wheels: wheels, own: map[string]cost{}, peer: map[string]cost{}}}
	m.begin(filepath.Join(os.Getenv("RINDKEEP_BOOKS"), fmt.Sprint(wheels, ".book")))
	m.db = filepath.Join(m.dir, "peer.db")
	if _, err := exec.LookPath("sqlite3"); err == nil {
		m.sqlite = true
	}
	m.fill()
	lot := m.tags[0][:strings.LastIndex(m.tags[0], "-")]
	few, often := 3, 7
	m.does("today", often, m.asks("today"), `SELECT place, job, count(*), group_concat(tag) FROM due JOIN wheel
		ON wheel.id = due.wheel WHERE day <= 20000 GROUP BY place, job ORDER BY place;`)
	m.does("today, one room", often, m.asks("today", "--room", "bay-1"), `SELECT place, job, count(*), group_concat(tag)
		FROM due JOIN wheel ON wheel.id = due.wheel WHERE place LIKE 'bay-1/%' GROUP BY place, job ORDER BY place;`)
	m.does("weigh one", often, func(i int) []string { return []string{"weigh", m.tags[i*7+1], "1990", "--sure"} },
		`BEGIN; INSERT INTO entry(wheel, at, kind, weight) VALUES (17, 1e9, 'weigh', 1990);
		UPDATE wheel SET weight = 1990 WHERE id = 17; COMMIT;`)
	m.weighings(min(10_000, wheels))
	m.does("did on a rack", few, func(i int) []string {
		return []string{"did", "turn", fmt.Sprintf("bay-1/%d", i+1), "--quiet"}
	},
		`BEGIN; INSERT INTO entry(wheel, at, kind, weight) SELECT id, 1e9, 'turn', 0 FROM wheel WHERE place LIKE 'bay-1/1/%';
		DELETE FROM due WHERE wheel IN (SELECT id FROM wheel WHERE place LIKE 'bay-1/1/%') AND job = 'turn';
		COMMIT;`)
	m.does("dry", often, m.asks("dry", "--json"), "")
	m.does("stock", often, m.asks("stock", "--json"), `SELECT lot, count(*), sum(weight) FROM wheel GROUP BY lot;`)
	m.does("ahead, 30 days", few, m.asks("ahead", "--days", "30", "--json"), "")
	m.does("ahead, 60 days", few, m.asks("ahead", "--days", "60", "--json"), "")
	m.does("wheel list", few, m.asks("wheel", "list", "--json"), ".mode json\nSELECT * FROM wheel ORDER BY tag;")
	m.does("wheel show", often, m.asks("wheel", "show", m.tags[5]),
		`SELECT * FROM wheel WHERE tag = '`+m.tags[5]+`'; SELECT * FROM entry WHERE wheel = 6 ORDER BY at;`)
	m.does("trace a lot", often, m.asks("trace", lot), `SELECT * FROM wheel WHERE lot = '`+lot+`';
		SELECT * FROM entry WHERE wheel IN (SELECT id FROM wheel WHERE lot = '`+lot+`');`)
	m.does("book check", 1, m.asks("book", "check"), "PRAGMA integrity_check;")
	m.does("book backup", few, func(i int) []string {
		return []string{"book", "backup", filepath.Join(m.dir, fmt.Sprint("b", i))}
	},
		".backup "+filepath.Join(m.dir, "peer.backup"))
	m.does("book export", 1, m.asks("book", "export", filepath.Join(m.dir, "x.jsonl")), ".dump")
	m.imports(min(wheels, 100_000))
	m.page()
	return m.out
}

// begin gives it a copy of the book that's made already, or makes one.
func (m *bench) begin(made string) {
	m.t.Helper()
	from, err := os.Open(made)
	if err != nil {
		m.run("demo", "--wheels", strconv.Itoa(m.out.wheels), "--book", m.book, "--quiet")
		return
	}
	defer from.Close()
	to, err := os.Create(m.book)
	if err == nil {
		_, err = io.Copy(to, from)
	}
	if err = errors.Join(err, to.Close()); err != nil {
		m.t.Fatal(err)
	}
}

// wanted says whether a row of the table was asked for.
func wanted(what string) bool {
	rows := os.Getenv("RINDKEEP_ROWS")
	return rows == "" || slices.ContainsFunc(strings.Split(rows, ","), func(w string) bool {
		return strings.Contains(what, w)
	})
}

func (m *bench) asks(args ...string) func(int) []string { return func(int) []string { return args } }

// does measures a command a few times, and the peer's statements.
func (m *bench) does(what string, times int, args func(i int) []string, sql string) {
	if !wanted(what) {
		return
	}
	m.out.order = append(m.out.order, what)
	from := time.Now()
	own := make([]cost, times)
	for i := range own {
		own[i] = m.process(m.command(args(i)...))
	}
	m.out.own[what] = middle(own)
	fmt.Fprintf(os.Stderr, "%d %s: %v, the runs took %s\n", m.out.wheels, what, m.out.own[what], time.Since(from))
	if sql == "" || !m.sqlite {
		return
	}
	peer := make([]cost, times)
	for i := range peer {
		peer[i] = m.process(m.sql(sql))
	}
	m.out.peer[what] = middle(peer)
}

// sql is the sqlite3 command with a durable log, as the book is.
func (m *bench) sql(text string) *exec.Cmd {
	cmd := exec.Command("sqlite3", m.db)
	cmd.Dir = m.dir
	cmd.Stdin = strings.NewReader(".output /dev/null\nPRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;\n" +
		".output stdout\n" + text)
	return cmd
}

func (m *bench) process(cmd *exec.Cmd) cost {
	m.t.Helper()
	var errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = io.Discard, &errs
	if err := cmd.Run(); err != nil {
		m.t.Fatalf("%q: %v\n%s", cmd.Args, err, errs.String())
	}
	p := cmd.ProcessState
	return cost{p.UserTime() + p.SystemTime(), peakMiB(p)}
}

// middle is the median, and the most memory of all.
func middle(cs []cost) cost {
	peak := slices.MaxFunc(cs, func(a, b cost) int { return cmp.Compare(a.peak, b.peak) }).peak
	slices.SortFunc(cs, func(a, b cost) int { return cmp.Compare(a.cpu, b.cpu) })
	return cost{cs[len(cs)/2].cpu, peak}
}

// fill puts the book's wheels into the peer's database, eight entries each, as the
// book has, and what is due.
func (m *bench) fill() {
	m.t.Helper()
	var list struct {
		Wheels []struct {
			Wheel, Lot, Place, Plan string
			Weight                  *float64 `json:"weight_g"`
		}
	}
	var today struct {
		Tasks []struct {
			Job    string
			Wheels []string
		}
	}
	for args, doc := range map[string]any{"wheel list": &list, "today": &today} {
		if err := json.Unmarshal([]byte(m.run(append(strings.Fields(args), "--json")...)), doc); err != nil {
			m.t.Fatal(err)
		}
	}
	ids := map[string]int{}
	m.csv("wheels.csv", func(put func(...any)) {
		for i, w := range list.Wheels {
			m.tags = append(m.tags, w.Wheel)
			ids[w.Wheel] = i + 1
			weight := 0.0
			if w.Weight != nil {
				weight = *w.Weight
			}
			put(i+1, w.Wheel, w.Lot, w.Place, w.Plan, weight)
		}
	})
	m.csv("due.csv", func(put func(...any)) {
		for _, t := range today.Tasks {
			for _, tag := range t.Wheels {
				put(20000, ids[tag], t.Job)
			}
		}
	})
	if m.sqlite {
		m.process(m.sql(`CREATE TABLE wheel(id INTEGER PRIMARY KEY, tag TEXT UNIQUE, lot TEXT, place TEXT,
			plan TEXT, weight REAL);
			CREATE TABLE entry(id INTEGER PRIMARY KEY, wheel INT, at INT, kind TEXT, weight REAL);
			CREATE TABLE due(day INT, wheel INT, job TEXT, PRIMARY KEY(day, wheel, job)) WITHOUT ROWID;
.mode csv
.import wheels.csv wheel
.import due.csv due
			CREATE INDEX lots ON wheel(lot); CREATE INDEX places ON wheel(place);
			WITH RECURSIVE n(k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n WHERE k < 8)
			INSERT INTO entry(wheel, at, kind, weight) SELECT id, k * 1000, 'weigh', weight FROM wheel, n;
			CREATE INDEX entries ON entry(wheel, at);`))
	}
}

func (m *bench) csv(name string, fn func(put func(...any))) string {
	m.t.Helper()
	path := filepath.Join(m.dir, name)
	f, err := os.Create(path)
	if err != nil {
		m.t.Fatal(err)
	}
	w := csv.NewWriter(f)
	fn(func(cells ...any) {
		row := make([]string, len(cells))
		for i, c := range cells {
			row[i] = fmt.Sprint(c)
		}
		if err := w.Write(row); err != nil {
			m.t.Fatal(err)
		}
	})
	w.Flush()
	if err := cmp.Or(w.Error(), f.Close()); err != nil {
		m.t.Fatal(err)
	}
	return path
}

// weighings records a table of weights in one go.
func (m *bench) weighings(rows int) {
	path := m.csv("weights.csv", func(put func(...any)) {
		put("tag", "weight", "date")
		for i := range rows {
			put(m.tags[len(m.tags)-1-i], 1900, time.Now().AddDate(0, 0, -1).Format(time.DateOnly))
		}
	})
	m.does(fmt.Sprintf("weigh --from, up to %d rows", 10_000), 1,
		m.asks("weigh", "--from", path, "--sure"), `CREATE TEMP TABLE t(tag, weight, day);
.mode csv
.import weights.csv t
		BEGIN; INSERT INTO entry(wheel, at, kind, weight) SELECT wheel.id, 1e9, 'weigh', t.weight FROM t
		JOIN wheel ON wheel.tag = t.tag; UPDATE wheel SET weight = (SELECT t.weight FROM t WHERE t.tag = wheel.tag)
		WHERE tag IN (SELECT tag FROM t); COMMIT;`)
}

// imports takes a table of as many wheels into a new book.
func (m *bench) imports(rows int) {
	path := m.csv("new.csv", func(put func(...any)) {
		put("tag", "lot", "variety", "made", "place", "green weight g", "weight g", "date weighed")
		made, weighed := time.Now().AddDate(0, 0, -9), time.Now().AddDate(0, 0, -3)
		for i := range rows {
			put(fmt.Sprintf("W%04d-%02d", i/40, i%40+1), fmt.Sprintf("W%04d", i/40), "cheddar-waxed", made.Format(time.DateOnly),
				fmt.Sprintf("cellar/A/%d", i%8+1), 5000+i%40, 4900, weighed.Format(time.DateOnly))
		}
	})
	was := m.book
	m.book = filepath.Join(m.dir, "new.book")
	m.run("room", "new", "cellar", "--racks", "A:8x9000", "--quiet")
	m.does("import of wheels", 1, m.asks("book", "import", path, "--map", "--sure", "--quiet"),
		`CREATE TABLE taken(tag, lot, variety, made, place, green, weight, weighed);
.mode csv
.import new.csv taken
		CREATE UNIQUE INDEX tags ON taken(tag);`)
	m.book = was
}

// page measures one room's round and a plain handler with the same lines.
func (m *bench) page() {
	what := "page: a room's round, KiB of HTML"
	if !wanted(what) {
		return
	}
	m.out.order = append(m.out.order, what)
	cmd, url, _ := m.pageOf()
	const times = 20
	var length int
	get := func(url string) {
		r, err := http.Get(url)
		if err != nil {
			m.t.Fatal(err)
		}
		defer r.Body.Close()
		n, err := io.Copy(io.Discard, r.Body)
		if length = int(n); err != nil || r.StatusCode != 200 {
			m.t.Fatalf("%s: %d, %v", url, r.StatusCode, err)
		}
	}
	get(url + "/?room=bay-1")
	before := cpuOf(cmd.Process.Pid)
	for range times {
		get(url + "/?room=bay-1")
	}
	m.out.own[what] = cost{(cpuOf(cmd.Process.Pid) - before) / times, float64(length) / 1024}
	_ = cmd.Process.Kill()
	_ = cmd.Wait()
	var today struct {
		Tasks []struct {
			Job, Place, Why string
			Wheels          []string
		}
	}
	if err := json.Unmarshal([]byte(m.run("today", "--room", "bay-1", "--json")), &today); err != nil {
		m.t.Fatal(err)
	}
	page := template.Must(template.New("").Parse(`<!doctype html><title>today</title>{{range .}}
<form method="post" action="did"><b>{{.Place}}</b> {{.Job}}
{{range .Wheels}}<label><input type="checkbox" name="w" value="{{.}}">{{.}}</label>{{end}}
<p>{{.Why}}</p><button>done</button></form>{{end}}`))
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		_ = page.Execute(w, today.Tasks)
	}))
	defer s.Close()
	get(s.URL)
	own := cpuOf(os.Getpid())
	for range times {
		get(s.URL)
	}
	m.out.peer[what] = cost{cpu: (cpuOf(os.Getpid()) - own) / times}
}
