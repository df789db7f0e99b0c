package page_test

import (
	"bytes"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cmd/cli"
	"rindkeep/cmd/cli/pages"
	"rindkeep/cmd/page"
	"rindkeep/cmd/page/access"
)

// desk is a page of a book of its own, on a clock that stands still.
type desk struct {
	t    *testing.T
	book string
	env  cli.Env
	h    http.Handler
}

func newDesk(t *testing.T) *desk {
	t.Helper()
	d := &desk{t: t, book: filepath.Join(t.TempDir(), "cave.book")}
	now := time.Date(2026, 11, 25, 8, 10, 0, 0, time.UTC)
	set := map[string]string{"TZ": "UTC", "RINDKEEP_BY": "Nora"}
	d.env = cli.Env{In: strings.NewReader(""), Out: io.Discard, Err: io.Discard, Now: func() time.Time { return now },
		Getenv: func(k string) string { return set[k] }}
	s, err := page.New(pages.Options(d.book, d.env))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	d.h = s.Handler()
	return d
}

// demo is a desk over the invented creamery.
func demo(t *testing.T) *desk {
	d := newDesk(t)
	d.must("demo", "--book="+d.book, "--quiet")
	return d
}

// must runs a command of the program on the book.
func (d *desk) must(args ...string) {
	d.t.Helper()
	var said strings.Builder
	e := d.env
	e.Err = &said
	if args[0] != "demo" {
		args = append([]string{"--book=" + d.book}, args...)
	}
	if code := cli.Run(d.t.Context(), args, e); code != 0 {
		d.t.Fatalf("rindkeep %s: exit %d: %s", strings.Join(args, " "), code, said.String())
	}
}

// get is what the page answers.
func (d *desk) get(path string) *http.Response {
	d.t.Helper()
	r := httptest.NewRequest(http.MethodGet, path, nil)
	r.Host = "localhost:4870"
	w := httptest.NewRecorder()
	d.h.ServeHTTP(w, r)
	return w.Result()
}

// page is the part of a page that is its own, and its status.
func (d *desk) page(path string) (int, string) {
	d.t.Helper()
	r := d.get(path)
	b, err := io.ReadAll(r.Body)
	if err != nil {
		d.t.Fatal(err)
	}
	_, own, ok := strings.Cut(string(b), "<main")
	own, _, end := strings.Cut(own, "</main>")
	if !ok || !end {
		d.t.Fatalf("%s is no page of ours: %s", path, b)
	}
	return r.StatusCode, "<main" + own + "</main>\n"
}

var (
	version = regexp.MustCompile(`/a/[0-9a-f]{16}/`)
	have    = regexp.MustCompile(`data-have="[0-9a-f]{12}\.1"`)
)

func TestABookWithoutWheelsOrRoomsSaysWhatToDoNext(t *testing.T) {
	d := newDesk(t)
	d.must("book", "new")
	for _, p := range []struct{ path, says string }{
		{"/wheels", "Record a make"},
		{"/rooms", "Add the first one"},
		{"/ahead", "Record a make"},
		{"/makes", "No makes yet"},
		{"/makes/new", "Save"},
		{"/trace", "One step back and one forward"},
		{"/stock", "No wheels in stock"},
		{"/held", "nothing is held"},
		{"/customers", "No customers yet"},
	} {
		t.Run(p.path, func(t *testing.T) {
			status, got := d.page(p.path)
			if status != http.StatusOK || !strings.Contains(got, p.says) {
				t.Errorf("status %d, without %q:\n%s", status, p.says, got)
			}
		})
	}
}

func TestWhatALawHoldsIsSaidOnTheCardAndInLists(t *testing.T) {
	d := demo(t)
	d.must("wheel", "hold", "261116A-02", "--why=test pending", "--at=08:05")
	d.must("law", "follow", "US")
	const words = "<b>HELD by law:</b> US, 21 CFR 133.113: raw milk: 9 of 60 days at 1.7 °C or more, " +
		"9 of them without a reading; check your own law"
	for _, p := range []struct {
		path, says string
		times      int
	}{
		{"/wheel/261116A-03", words, 1},
		{"/wheel/261121A-01", "HELD", 0},
		{"/wheels?find=261116A", "<td>HELD by law</td>", 4},
		{"/wheels?find=261116A", "<td>HELD, and by law</td>", 1},
		{"/lot/261116A", "<td>HELD by law</td>", 4},
		{"/lot/261121A", "HELD", 0},
	} {
		_, got := d.page(p.path)
		if n := strings.Count(got, p.says); n != p.times {
			t.Errorf("%s says %q %d times, want %d:\n%s", p.path, p.says, n, p.times, got)
		}
	}
	// It stands before all else that is to be done with it.
	_, got := d.page("/wheel/261116A-03")
	if law, do := strings.Index(got, words), strings.Index(got, `href="#do"`); law < 0 || do < law {
		t.Errorf("the law at %d, what to do at %d", law, do)
	}
}

func TestTheCoatOfThePlanIsChosenWhereItIsDue(t *testing.T) {
	d := demo(t)
	if _, got := d.page("/wheel/261116A-03"); !strings.Contains(got, "<option selected>wax</option>") {
		t.Errorf("wax is due, and not chosen:\n%s", got)
	}
	if _, got := d.page("/wheel/261121A-01"); strings.Contains(got, "<option selected>") {
		t.Errorf("no coat is due, and one is chosen:\n%s", got)
	}
}

func TestWhatIsFoundByTag(t *testing.T) {
	d := demo(t)
	for _, c := range []struct {
		name, path string
		status     int
		to         string // where it leads
		says       string
	}{
		{"a tag leads straight to the wheel", "/wheels?find=261121A-01", http.StatusSeeOther, "/wheel/261121A-01", ""},
		{"white space around a tag does not matter", "/wheels?find=+261121A-01+", http.StatusSeeOther, "/wheel/261121A-01",
			""},
		{"a lot is listed", "/wheels?find=261121A", http.StatusOK, "", "6 wheels"},
		{"a place is listed", "/wheels?find=drying/A/1", http.StatusOK, "", "6 wheels"},
		{"a room is listed", "/wheels?find=cellar", http.StatusOK, "", "36 wheels"},
		{"of a room, those of a rack", "/wheels?find=cellar&rack=cellar/B", http.StatusOK, "", "cellar/B/1"},
		{"those of one stage", "/wheels?stage=drying", http.StatusOK, "", "All wheels"},
		{"those that are held", "/wheels?held=true", http.StatusOK, "", "No wheels there now"},
		{"no such stage", "/wheels?stage=moulting", http.StatusBadRequest, "", "moulting"},
		{"no such room", "/wheels?room=attic", http.StatusNotFound, "", "attic"},
		{"neither held nor not", "/wheels?held=perhaps", http.StatusBadRequest, "", "held is true or false"},
		{"a beginning is listed", "/wheels?find=2611*", http.StatusOK, "", "261113A-01"},
		{"anything else is searched for", "/wheels?find=blue+spot", http.StatusSeeOther, "/find?words=blue+spot", ""},
		{"an unknown tag names those like it", "/find?words=261121A-66", http.StatusOK, "", "did you mean 261121A-06"},
		{"words that nothing has are said", "/find?words=%22blue%22+spot", http.StatusOK, "", "&#34;blue&#34; spot"},
		{"no words lead to all wheels", "/find?words=+", http.StatusSeeOther, "/wheels", ""},
		{"an unknown wheel names those like it", "/wheel/261121A-66", http.StatusNotFound, "", "did you mean 261121A-06"},
		{"an unknown lot is refused", "/lot/nolot", http.StatusNotFound, "", "nolot"},
		{"an unknown room is refused", "/room/attic", http.StatusNotFound, "", "attic"},
		{"a word with a slash is no wheel", "/wheel/attic%2FA", http.StatusNotFound, "", "attic"},
		{"a place is no wheel", "/wheel/cellar%2FA", http.StatusBadRequest, "", "name one by its tag"},
		{"a flag is no flag but a word", "/wheel/--help", http.StatusNotFound, "", "--help"},
		{"nor is one that is looked for", "/find?words=--gone", http.StatusOK, "", "--gone"},
		{"a picture of no wheel is not there", "/wheel/nowheel/curve.svg", http.StatusNotFound, "", ""},
		{"days that are no number are refused", "/ahead?days=many", http.StatusBadRequest, "", "many"},
		{"a period out of range is refused", "/room/cellar?days=0", http.StatusBadRequest, "", "give 1 to 3660"},
		{"a trace of nothing known is refused beside its field", "/trace?what=nothing", http.StatusNotFound, "",
			`aria-describedby="tr-wrong"`},
		{"a trace of two kinds at once is refused", "/trace?what=261121A&customer=X", http.StatusBadRequest, "",
			"one thing at a time"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := d.get(c.path)
			b, _ := io.ReadAll(r.Body)
			if r.StatusCode != c.status || r.Header.Get("Location") != c.to || !strings.Contains(string(b), c.says) {
				t.Errorf("%s: status %d to %q, want %d to %q and %q in\n%s",
					c.path, r.StatusCode, r.Header.Get("Location"), c.status, c.to, c.says, b)
			}
		})
	}
}

func TestALongListComesInPages(t *testing.T) {
	d := newDesk(t)
	d.must("book", "new")
	d.must("room", "new", "hall", "--racks=A:9x200")
	d.must("make", "new", "--variety=gouda", "--wheels=150", "--lot=L1", "--place=hall/A/1")
	d.must("make", "new", "--variety=gouda", "--wheels=120", "--lot=L2", "--place=hall/A/2")
	_, first := d.page("/wheels?find=L1")
	_, second := d.page("/wheels?find=L1&from=100")
	_, past := d.page("/wheels?find=L1&from=9999")
	_, hall := d.page("/wheels?find=hall")
	rows := func(s string) int { return strings.Count(s, `<th scope="row">`) }
	got := []int{rows(first), rows(second), rows(past), rows(hall)}
	if diff := cmp.Diff([]int{100, 50, 1, 2}, got); diff != "" {
		t.Error(diff)
	}
	for _, want := range []string{"wheels 1 to 100 of 150", `href="/wheels?find=L1&amp;from=100" rel="next"`} {
		if !strings.Contains(first, want) {
			t.Errorf("no %s in\n%s", want, first)
		}
	}
	if strings.Contains(second, `rel="next"`) ||
		!strings.Contains(second, `href="/wheels?find=L1&amp;from=0" rel="prev"`) {
		t.Error("the second page leads on, or not back")
	}
	if !strings.Contains(hall, "hall/A/1") {
		t.Errorf("a full room is not shown by shelf:\n%s", hall)
	}
}

func TestHostileWordsStayWords(t *testing.T) {
	d := newDesk(t)
	d.must("book", "new")
	long := strings.Repeat("ü", 30) // 60 bytes, the most a name holds
	script := `<script>alert(1)</script>"'& שלום`
	for _, room := range []string{"a%2F?#&", long} {
		d.must("room", "new", room, "--racks=<i>:1x9", "--title=<u>&\"")
	}
	tags := []string{"..", ".", "%2e%2e", "a%b?c=d&e#f", "<script>", long, "x\\y", "שלום"}
	for i, tag := range tags {
		d.must("make", "new", "--variety=gouda", "--wheels=1", "--lot="+string(rune('k'+i))+"<lot>%&",
			"--place=a%2F?#&/<i>/1", "--note="+script)
		d.must("wheel", "tag", string(rune('k'+i))+"<lot>%&-01", tag)
		d.must("weigh", tag, "9kg")
		d.must("wheel", "note", tag, script)
		d.must("wheel", "hold", tag, "--why="+script)
	}
	d.must("customer", "new", `<script>"'`, "--contact="+script)
	d.must("wheel", "send", "<script>", "--to=<script>\"'", "--override="+script, "--document="+script, "--sure")
	link := regexp.MustCompile(`(?:href|src)="(/[^"]*)"`)
	seen := map[string]bool{}
	var walk func(path string)
	walk = func(path string) {
		if seen[path] || len(seen) > 400 {
			return
		}
		seen[path] = true
		r := d.get(path)
		b, _ := io.ReadAll(r.Body)
		body := string(b)
		if r.StatusCode >= 400 {
			t.Errorf("a link leads to %s: status %d\n%.300s", path, r.StatusCode, body)
			return
		}
		if !strings.HasPrefix(r.Header.Get("Content-Type"), "text/html") {
			// A table or sheet is handed over as a file; a picture is shown.
			if file := r.Header.Get("Content-Disposition") != ""; !file && strings.Contains(body, "<script") {
				t.Errorf("%s holds a script", path)
			}
			return
		}
		_, own, _ := strings.Cut(body, "<main")
		for _, bad := range []string{"<script", "<u>", "<i>", " style=", " onclick"} {
			if strings.Contains(own, bad) {
				t.Errorf("%s holds %s", path, bad)
			}
		}
		for _, m := range link.FindAllStringSubmatch(own, -1) {
			walk(strings.NewReplacer("&amp;", "&", "&#43;", "+", "&#39;", "'", "&#34;", `"`).Replace(m[1]))
		}
	}
	for _, p := range []string{"/wheels", "/rooms", "/makes", "/stock", "/held", "/customers", "/ahead?days=3",
		"/trace?customer=" + url.QueryEscape(`<script>"'`)} {
		walk(p)
	}
	for _, tag := range tags {
		to := d.get("/wheels?find=" + url.QueryEscape(tag)).Header.Get("Location")
		if to == "" {
			t.Errorf("looking for %q does not lead to it", tag)
			continue
		}
		_, got := d.page(to)
		if !strings.Contains(got, "&lt;script&gt;alert(1)&lt;/script&gt;") {
			t.Errorf("the card of %q is not found by its tag", tag)
		}
	}
	if len(seen) < 60 {
		t.Errorf("only %d addresses were walked", len(seen))
	}
}

func TestAReaderSeesNoFormsThatWrite(t *testing.T) {
	d := demo(t)
	o := pages.Options(d.book, d.env)
	o.Access = access.Open(filepath.Join(t.TempDir(), "cave.book.access"), nil)
	const password = "a long and quiet cellar"
	for name, role := range map[string]access.Role{"Ines": access.Reader, "Nora": access.Writer} {
		if _, err := o.Access.SetPassword(name, role, password, o.Now()); err != nil {
			t.Fatal(err)
		}
	}
	s, err := page.New(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	d.h = s.Handler()
	forms := map[string]int{}
	for _, name := range []string{"Ines", "Nora"} {
		r := httptest.NewRequest(http.MethodPost, "/login",
			strings.NewReader(url.Values{"name": {name}, "password": {password}}.Encode()))
		r.Host = "localhost:4870"
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		d.h.ServeHTTP(w, r)
		cookies := w.Result().Cookies()
		if len(cookies) == 0 {
			t.Fatalf("%s is not let in: %d %s", name, w.Code, w.Body)
		}
		for _, path := range []string{"/wheel/261121A-01", "/wheel/260910A-02", "/lot/261121A", "/room/cellar", "/makes",
			"/makes/new", "/customers", "/trace", "/stock", "/held", "/ahead", "/wheels"} {
			r := httptest.NewRequest(http.MethodGet, path, nil)
			r.Host = "localhost:4870"
			r.AddCookie(cookies[0])
			w := httptest.NewRecorder()
			d.h.ServeHTTP(w, r)
			if w.Code != http.StatusOK {
				t.Errorf("%s at %s: status %d", name, path, w.Code)
			}
			forms[name] += strings.Count(w.Body.String(), `action="/api/`)
		}
	}
	if forms["Ines"] != 0 || forms["Nora"] < 15 {
		t.Errorf("forms that write: %v; the reader should see none and the writer many", forms)
	}
}

func TestPicturesAndTablesComeAsWhatTheyAre(t *testing.T) {
	d := demo(t)
	d.must("air", "log", "cellar", "12.1C", "86%")
	d.must("make", "log", "261122A", "acidity", "--ph=6.45", "--at=2026-11-22T09:10")
	d.must("wheel", "send", "260910A-02", "--to=The Corner Shop")
	for _, c := range []struct{ path, kind, begins string }{
		{"/wheel/261121A-01/curve.svg", "image/svg+xml", `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 600 400"`},
		{"/wheel/261121A-01/curve.svg?narrow", "image/svg+xml",
			`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 340 360"`},
		{"/lot/261121A/curve.svg", "image/svg+xml", "<svg "},
		{"/lot/261122A/acidity.svg", "image/svg+xml", "<svg "},
		{"/room/cellar/air.svg?days=7&narrow", "image/svg+xml", "<svg "},
		{"/ahead/cave.ics?days=5&rest=&room=", "text/calendar; charset=utf-8", "BEGIN:VCALENDAR\r\n"},
		{"/trace/recall.csv?what=260910A-02", "text/csv; charset=utf-8", "wheel,lot,customer,"},
		{"/trace/fsma.csv?what=260910A-02", "text/csv; charset=utf-8", ""},
		{"/trace/recall.pdf?what=260910A-02", "application/pdf", "%PDF-"},
		{"/wheel/261121A-01/card.pdf", "application/pdf", "%PDF-"},
		{"/lot/261121A/sheet.pdf", "application/pdf", "%PDF-"},
		{"/print/today.pdf?room=cellar&paper=letter&large=on", "application/pdf", "%PDF-"},
		{"/print/labels.pdf?what=261121A&stock=a4-3x7&start=5&cut=on", "application/pdf", "%PDF-"},
	} {
		r := d.get(c.path)
		b, _ := io.ReadAll(r.Body)
		if r.StatusCode != http.StatusOK || r.Header.Get("Content-Type") != c.kind || len(b) == 0 ||
			!strings.HasPrefix(string(b), c.begins) {
			t.Errorf("%s: status %d, %s, %.80q", c.path, r.StatusCode, r.Header.Get("Content-Type"), b)
		}
	}
}

func TestThePagePrintsWhatTheCommandsPrint(t *testing.T) {
	d := demo(t)
	for _, c := range []struct {
		path    string
		command []string
	}{
		{"/print/today.pdf?room=cellar&on=tomorrow", []string{"sheet", "today", "--room=cellar", "--on=tomorrow"}},
		{"/print/labels.pdf?what=261121A,+drying/A&start=5", []string{"sheet", "labels", "261121A", "drying/A", "--start=5"}},
	} {
		file := filepath.Join(t.TempDir(), "sheet.pdf")
		d.must(append(c.command, "--out="+file)...)
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if got, _ := io.ReadAll(d.get(c.path).Body); !bytes.Equal(got, want) {
			t.Errorf("%s: %d bytes, and %v prints %d", c.path, len(got), c.command, len(want))
		}
	}
	for _, path := range []string{
		"/print/labels.pdf?what=261121A&start=25", "/print/labels.pdf?what=261121A&stock=none", "/print/today.pdf?paper=a9",
		"/print/labels.pdf?what=nothing",
	} {
		if r := d.get(path); r.StatusCode < 400 {
			t.Errorf("%s: status %d", path, r.StatusCode)
		}
	}
}
