package page

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"rindkeep/cmd/app"
	"slices"
	"strings"
	"time"
)

// document is a command's document under an address of its own: GET /api/PATH.
type document struct {
	path    string // below /api/, with {words} that go to the command
	about   string
	command string
	query   []string // flags that may be given as ?name=value
	what    bool     // ?what= names wheels, lots or places; it may come again
	ask     func(*call) (any, error)
}

// documents are all that may be read.
var documents = []document{
	{"today", "the day's list in walking order", "today", []string{"on", "only", "room"}, false, showToday},
	{"dry", "dry enough? for every wheel waiting for its coat", "dry", []string{"on"}, false, showVerdicts},
	{"dry/{tag}", "dry enough? for one wheel, rule by rule", "dry", []string{"on"}, false, showVerdict},
	{"curve/{tag}", "weights against the expected and the own curve", "curve", []string{"days"}, false, showCurve},
	{"wheels", "the wheels, with age, stage, place and loss", "wheel list", []string{"stage", "gone"}, true, nil},
	{"wheels/{tag}", "one wheel's card", "wheel show", []string{"history"}, false, nil},
	{"lots", "the makes, newest first", "make list", []string{"variety", "most"}, false, listMakes},
	{"lots/{lot}", "one make as a sheet", "make show", nil, false, showMake},
	{"rooms", "the rooms in walking order", "room list", nil, false, listRooms},
	{"rooms/{room}", "one room: its air, racks, wheels and their water", "room show", []string{"volume", "air-change", "outside-temp", "outside-rh"}, false, showRoom},
	{"rooms/{room}/air", "its air by day, hours out of limits, water load", "air show", []string{"days", "volume", "air-change", "outside-temp", "outside-rh"}, false, showAir},
	{"ahead", "the days ahead: work, what becomes ready, shelf space", "ahead", []string{"days", "room", "rest"}, false, showAhead},
	{"trace", "one step back and one forward, for what the query names", "trace", []string{"ingredient", "customer", "room", "from", "to"}, true, traced},
	{"trace/{what}", "one step back and one forward, for a wheel or a lot", "trace", nil, false, traced},
	{"stock", "what is in stock: wheels, kilograms, held, ready", "stock", []string{"room", "variety", "on"}, false, showStock},
	{"customers", "the customers", "customer list", nil, false, listCustomers},
	{"customers/{name}", "one customer", "customer show", nil, false, showCustomer},
	{"varieties", "the kinds of cheese", "variety list", nil, false, listVarieties},
	{"plans", "the rind plans", "plan list", nil, false, listPlans},
	{"log", "all entries; the newest 200 unless most says more", "log", []string{"from", "to", "person", "job", "kind", "struck", "most", "by-day"}, true, nil},
}

// apiRoutes are the documents of the commands, and what may be written.
func (s *Server) apiRoutes(m *http.ServeMux) {
	for _, d := range documents {
		m.HandleFunc("GET /api/"+d.path, func(w http.ResponseWriter, r *http.Request) { s.read(w, r, d) })
	}
	for _, a := range acts {
		m.HandleFunc("POST /api/"+a.name, func(w http.ResponseWriter, r *http.Request) { s.write(w, r, a) })
	}
	m.HandleFunc("GET /photo/{entry}", s.photo)
	m.HandleFunc("/api/", s.noSuchAPI)
}

// mostAsked is how many wheels, lots and places a query may name: each may be a
// walk through the book, and who may only look must not keep others waiting.
const mostAsked = 100

// read answers with a document.
func (s *Server) read(w http.ResponseWriter, r *http.Request, d document) {
	q, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		s.refuse(w, http.StatusBadRequest, badRequest{"", "can't read the query"})
		return
	}
	l := &line{command: d.command}
	c := s.callOf(r)
	for name, vs := range q {
		switch {
		case name == "what" && d.what && len(vs) > mostAsked:
			s.refuse(w, http.StatusBadRequest, badRequestf(name, "what lists %d names in the query; give at most %d", len(vs), mostAsked))
			return
		case name == "what" && d.what:
			l.words = append(l.words, vs...)
		case !slices.Contains(d.query, name):
			s.refuse(w, http.StatusBadRequest, badRequestf(short(name), "%s doesn't take %q in the query", d.path, short(name)))
			return
		case len(vs) > 1:
			s.refuse(w, http.StatusBadRequest, badRequestf(name, "%s appears twice in the query", name))
			return
		default:
			l.flag(name, vs[0])
		}
	}
	for _, seg := range strings.Split(d.path, "/") {
		if name, ok := strings.CutPrefix(seg, "{"); ok {
			r.SetPathValue("name", r.PathValue(strings.TrimSuffix(name, "}")))
		}
	}
	if d.ask != nil {
		c.caller.On = c.text("on")
		doc, err := inTurn(c, d.ask)
		s.answerWith(w, c, doc, err)
		return
	}
	slices.Sort(l.flags)
	if d.path == "log" && !q.Has("most") && !q.Has("by-day") {
		l.flag("most", "200")
	}
	for _, seg := range strings.Split(d.path, "/") {
		if name, ok := strings.CutPrefix(seg, "{"); ok {
			l.words = append(l.words, r.PathValue(strings.TrimSuffix(name, "}")))
		}
	}
	s.answer(w, s.opt.Run(r.Context(), l.args()))
}

// write does an act.
func (s *Server) write(w http.ResponseWriter, r *http.Request, a act) {
	if t, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || t != "application/json" {
		s.refuse(w, http.StatusUnsupportedMediaType, badRequest{"Content-Type", "send it as Content-Type: application/json"})
		return
	}
	body, err := io.ReadAll(r.Body)
	if err != nil {
		s.refuseBody(w, err)
		return
	}
	sent, err := object(body)
	if err != nil {
		s.refuse(w, http.StatusBadRequest, err)
		return
	}
	v, err := a.read(sent)
	if err != nil {
		s.refuse(w, http.StatusBadRequest, err)
		return
	}
	by := v.text("by")
	switch p := personOf(r); {
	case p.Role == Device, p.Name == "":
		by = cmp.Or(by, p.Name)
	case by != "" && !strings.EqualFold(by, p.Name):
		// A page that was opened, or an entry that was made, while another was
		// logged in on this phone: what one did goes in under no other's name.
		s.say(w, http.StatusUnauthorized, Refusal{Error: fmt.Sprintf("%s is logged in here, not %s; nothing was saved", p.Name, short(by)), Where: "by", Exit: 1, Hint: "log in as " + short(by)})
		return
	default:
		by = p.Name
	}
	if a.do != nil {
		c := s.callOf(r)
		c.caller = app.Caller{By: by, ID: v.text("id"), At: v.text("at"), Command: "rindkeep " + a.command}
		doc, err := inTurn(c, func(c *call) (any, error) { return a.do(c, v) })
		s.answerWith(w, c, doc, err)
		return
	}
	l, err := a.line(v)
	if err != nil {
		s.refuse(w, http.StatusBadRequest, err)
		return
	}
	l.flag("id", v.text("id")).flag("at", v.text("at")).flag("by", by)
	if a.sure && v.truth("sure") {
		l.flag("sure", "true")
	}
	if l.in != nil {
		re := s.opt.Fed(r.Context(), l.args(), l.in)
		if re.Said.Where == "-" || re.Said.Where == "--photo" { // of the command: here it is the photo
			re.Said.Where, re.Said.Error = "photo", strings.TrimPrefix(re.Said.Error, "-: ")
		}
		s.answer(w, re)
		return
	}
	s.answer(w, s.opt.Run(r.Context(), l.args()))
}

// photo is the picture that goes with a note, named as its entry is.
func (s *Server) photo(w http.ResponseWriter, r *http.Request) {
	re := s.opt.Raw(r.Context(), []string{"wheel", "photo", "--out=-", "--", r.PathValue("entry")})
	if re.Code != 0 {
		s.turnAway(w, r, statusOf(re.Code), re.Said)
		return
	}
	w.Header().Set("Content-Type", "image/jpeg")
	// A browser keeps it and asks each time whether it may still show it: who
	// comes after on the same phone may not.
	w.Header().Set("Cache-Control", "private, no-cache")
	w.Header().Set("ETag", fmt.Sprintf(`"%x"`, sha256.Sum256(re.Doc)))
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(re.Doc))
}

// answer sends what a command said.
func (s *Server) answer(w http.ResponseWriter, re Reply) {
	if re.Code != 0 {
		s.say(w, statusOf(re.Code), onPage(re.Said))
		return
	}
	sendJSON(w, http.StatusOK, re.Doc)
}

// refuse says what is wrong with a request that no command was asked about.
func (s *Server) refuse(w http.ResponseWriter, status int, err error) {
	said := Refusal{Error: err.Error(), Exit: 1}
	var m badRequest
	if errors.As(err, &m) {
		said.Where = m.where
	}
	switch status {
	case http.StatusBadRequest, http.StatusUnsupportedMediaType, http.StatusNotFound, http.StatusMethodNotAllowed:
		said.Exit, said.Hint = 2, listed
	case http.StatusServiceUnavailable:
		said.Exit, said.Hint = 3, "try again in a moment"
	}
	s.say(w, status, said)
}

// refuseBody says why a body could not be read.
func (s *Server) refuseBody(w http.ResponseWriter, err error) {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		s.refuse(w, http.StatusRequestEntityTooLarge, fmt.Errorf("the request is too large; send at most %d kB", large.Limit/1000))
		return
	}
	s.refuse(w, http.StatusBadRequest, badRequest{"", "the request was cut off"})
}

// say sends a refusal.
func (s *Server) say(w http.ResponseWriter, status int, said Refusal) {
	b, err := json.Marshal(said)
	if err != nil {
		b, status = []byte(`{"error":"Sorry, rindkeep hit a bug and stopped","where":"","exit":70}`), http.StatusInternalServerError
	}
	sendJSON(w, status, append(b, '\n'))
}

func sendJSON(w http.ResponseWriter, status int, doc []byte) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(doc)
}

// noSuchAPI answers what is no address of the API, or is one for another method.
func (s *Server) noSuchAPI(w http.ResponseWriter, r *http.Request) {
	name := strings.TrimPrefix(r.URL.Path, "/api/")
	_, writes := actNamed(name)
	reads := slices.ContainsFunc(documents, func(d document) bool { return d.matches(name) })
	var allow []string
	if reads {
		allow = append(allow, "GET", "HEAD")
	}
	if writes {
		allow = append(allow, "POST")
	}
	if len(allow) == 0 {
		s.refuse(w, http.StatusNotFound, badRequestf("", "no address %s", short(r.URL.Path)))
		return
	}
	w.Header().Set("Allow", strings.Join(allow, ", "))
	s.refuse(w, http.StatusMethodNotAllowed, badRequestf("", "%s takes %s, not %s", short(r.URL.Path), strings.Join(allow, " or "), short(r.Method)))
}

// matches says whether an address below /api/ is the document's.
func (d document) matches(path string) bool {
	want, have := strings.Split(d.path, "/"), strings.Split(path, "/")
	if len(want) != len(have) {
		return false
	}
	for i, w := range want {
		if !strings.HasPrefix(w, "{") && w != have[i] {
			return false
		}
	}
	return true
}

// maxPhoto is the largest picture that is kept, in bytes.
const maxPhoto = 300_000

// picture is a photo as it was sent.
func picture(name, s string) ([]byte, error) {
	b, err := base64.StdEncoding.DecodeString(s)
	switch {
	case err != nil:
		return nil, badRequestf(name, "%s isn't base64", name)
	case len(b) > maxPhoto:
		return nil, badRequestf(name, "%s is too large; send at most %d kB", name, maxPhoto/1000)
	}
	return b, nil
}

// API is what may be sent to a page and read from it, as text: printed from
// the same tables that answer, so that it cannot fall behind them.
func API() string {
	var b strings.Builder
	b.WriteString("read: GET; the answer is the document of the command's --json\n\n")
	for _, d := range documents {
		q := append([]string(nil), d.query...)
		if d.what {
			q = append([]string{"what"}, q...)
		}
		fmt.Fprintf(&b, "  /api/%-18s %s\n", d.path, d.about)
		if len(q) > 0 {
			fmt.Fprintf(&b, "  %23s ?%s\n", "", strings.Join(q, " "))
		}
	}
	b.WriteString("\nwrite: POST one JSON object as application/json; *: required; d: a device may\n\n")
	b.WriteString("  every act takes\n")
	for _, f := range common {
		f.print(&b)
	}
	for _, a := range acts {
		d := ""
		if a.device {
			d = "  (d)"
		}
		fmt.Fprintf(&b, "\n  /api/%s  %s%s\n", a.name, a.about, d)
		for _, f := range a.fields {
			f.print(&b)
		}
	}
	b.WriteString(`
answers: 200 the document; otherwise {"error", "where", "hint", "exit", "sure",
"code", "figures"} with 400 not understood, 401 log in or send Authorization:
Bearer TOKEN, 403 not allowed, 404 not found, 413 too large, 415 not JSON, 422
refused by the book (sure: send it again with "sure": true to record it), 429 too
many tries, 503 busy. 429 and 503 give the seconds to wait in Retry-After. If an
id was recorded before, the answer is rindkeep/known/1.

/photo/ENTRY  the photo of a note, by its entry's code or UUID
/live    server-sent events: "change" with {"rev": N} whenever the book changed
/health  {"status":"ok"} while the book can be opened
`)
	return b.String()
}

func (f field) print(b *strings.Builder) {
	star := " "
	if f.must {
		star = "*"
	}
	fmt.Fprintf(b, "   %s %-14s %-18s %s\n", star, f.name, f.kind, f.about)
}
