package page

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"rindkeep/cmd/app"
)

// document is what may be read: GET /api/PATH. It is what the command line prints with
// --json.
type document struct {
	path  string // below /api/; a {word} names what it is about
	about string
	query []string // names that may be given as ?name=value
	what  bool     // ?what= names wheels, lots or places; it may come again
	ask   func(*call) (any, error)
}

// ofWater are what a room's water is worked out with.
var ofWater = []string{"volume", "air-change", "outside-temp", "outside-rh"}

// documents are all that may be read.
var documents = []document{
	{"today", "the day's list in walking order",
		append([]string{"on", "only", "share", "most"}, narrowing...), false, showToday},
	{"dry", "dry enough? for every wheel waiting for its coat",
		append([]string{"on", "most"}, narrowing...), false, showVerdicts},
	{"dry/{tag}", "dry enough? for one wheel, rule by rule", []string{"on"}, false, showVerdict},
	{"curve/{tag}", "weights against the expected and the own curve", []string{"days"}, false, showCurve},
	{"wheels", "the wheels, with age, stage, place and loss",
		append([]string{"gone", "most"}, narrowing...), true, listWheels},
	{"wheels/{tag}", "one wheel's card", []string{"history"}, false, showWheel},
	{"lots", "the makes, newest first", []string{"variety", "most"}, false, listMakes},
	{"lots/{lot}", "one make as a sheet", nil, false, showMake},
	{"rooms", "the rooms in walking order", nil, false, listRooms},
	{"rooms/{room}", "one room: its air, racks, wheels and their water", ofWater, false, showRoom},
	{"rooms/{room}/air", "its air by day, hours out of limits, water load", append([]string{"days"}, ofWater...), false,
		showAir},
	{"ahead", "the days ahead: work, what becomes ready, shelf space",
		append([]string{"days", "rest"}, narrowing...), false, showAhead},
	{
		"trace", "one step back and one forward, for what the query names",
		[]string{"ingredient", "customer", "room", "from", "to"}, true, traced,
	},
	{"trace/{what}", "one step back and one forward, for a wheel or a lot", nil, false, traced},
	{"stock", "what is in stock: wheels, kilograms, held, ready",
		append([]string{"on", "most"}, narrowing...), false, showStock},
	{"find", "makes, wheels, customers and notes by words", []string{"words", "most"}, false, search},
	{"samples", "samples for laboratories, with their results", []string{"open", "most"}, true, listSamples},
	{"limits", "the limits that results are held against", []string{"test"}, false, listLimits},
	{"held", "what is held and why, since when, and what would end it",
		append([]string{"most"}, narrowing...), true, listHeld},
	{"customers", "the customers", nil, false, listCustomers},
	{"customers/{name}", "one customer", nil, false, showCustomer},
	{"sites", "the sites that share the book, what is on the way and what they disagree about", nil, false, listSites},
	{"varieties", "the kinds of cheese", nil, false, listVarieties},
	{"plans", "the rind plans", nil, false, listPlans},
	{
		"log", "all entries; the newest 200 unless most says more",
		[]string{"from", "to", "person", "job", "kind", "struck", "most", "by-day"}, true, showLog,
	},
}

// apiRoutes are what may be read and written.
func (s *Server) apiRoutes(m *http.ServeMux) {
	for _, d := range documents {
		m.HandleFunc("GET /api/"+d.path, func(w http.ResponseWriter, r *http.Request) { s.read(w, r, d) })
	}
	for _, a := range acts {
		h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { s.write(w, r, a) })
		if a.name == importAct {
			h = patient(h)
		}
		m.Handle("POST /api/"+a.name, h)
	}
	m.HandleFunc("GET /photo/{name}", s.photo)
	m.HandleFunc("/api/", s.noSuchAPI)
}

// mostAsked is how many wheels, lots and places a query may name: each may be a
// walk through the book, and who may only look must not keep others waiting.
const mostAsked = 100

// read answers with a document.
func (s *Server) read(w http.ResponseWriter, r *http.Request, d document) {
	c := s.callOf(r)
	if err := d.check(r); err != nil {
		s.refuse(w, r, err)
		return
	}
	for seg := range strings.SplitSeq(d.path, "/") {
		if name, ok := strings.CutPrefix(seg, "{"); ok {
			r.SetPathValue("name", r.PathValue(strings.TrimSuffix(name, "}")))
		}
	}
	c.caller.On = c.text("on")
	doc, err := inTurn(c, d.ask)
	s.answer(w, r, doc, err)
}

// check refuses a query that the document doesn't take.
func (d document) check(r *http.Request) error {
	q, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return badRequestf("", "can't read the query")
	}
	for name, vs := range q {
		switch {
		case name == "what" && d.what && len(vs) > mostAsked:
			return badRequestf(name, "what lists %d names in the query; give at most %d", len(vs), mostAsked)
		case name == "what" && d.what:
		case !slices.Contains(d.query, name):
			return badRequestf(short(name), "%s doesn't take %q in the query", d.path, short(name))
		case len(vs) > 1:
			return badRequestf(name, "%s appears twice in the query", name)
		}
	}
	return nil
}

// write does an act.
func (s *Server) write(w http.ResponseWriter, r *http.Request, a act) {
	v, err := a.sent(r)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	by, here := v.text("by"), personOf(r)
	var within time.Duration
	if isDevice(r) {
		if said, bad := v.impersonates(here.Name); bad {
			s.say(w, http.StatusForbidden, said)
			return
		}
		within = deviceReach
	} else if here.Name != "" && by != "" && !strings.EqualFold(by, here.Name) {
		// A page that was opened, or an entry that was made, while another was
		// logged in on this phone: what one did goes in under no other's name.
		s.say(w, http.StatusUnauthorized, Refusal{
			Error: fmt.Sprintf("%s is logged in here, not %s; nothing was saved", here.Name, short(by)),
			Where: "by", Exit: app.Refused.Exit(), Hint: "log in as " + short(by),
		})
		return
	}
	c := s.callOf(r)
	clock, err := v.clock()
	if err == nil {
		c.caller.Phone, c.caller.Number, err = v.entered()
	}
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	c.caller.By, c.caller.ID, c.caller.At = cmp.Or(here.Name, by), v.text("id"), v.text("at")
	c.caller.Within, c.caller.Clock, c.caller.Command = within, clock, "rindkeep "+a.command
	c.caller.Unsure = v.truth("unsure")
	doc, err := inTurn(c, func(c *call) (any, error) { return a.do(c, v) })
	s.answer(w, r, doc, a.placed(err))
	s.live.Nudge()
}

// sent reads the fields of an act from a request.
func (a act) sent(r *http.Request) (values, error) {
	if t, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || t != "application/json" {
		return nil, badRequest{"Content-Type", "send it as Content-Type: application/json", http.StatusUnsupportedMediaType}
	}
	body, err := io.ReadAll(r.Body)
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		why := fmt.Sprintf("the request is too large; send at most %d kB", large.Limit/1000)
		return nil, badRequest{"", why, http.StatusRequestEntityTooLarge}
	case err != nil:
		return nil, badRequestf("", "the request was cut off")
	}
	sent, err := object(body)
	if err != nil {
		return nil, err
	}
	return a.read(sent)
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
		s.refuse(w, r, badRequest{"", "no address " + short(r.URL.Path), http.StatusNotFound})
		return
	}
	w.Header().Set("Allow", strings.Join(allow, ", "))
	why := fmt.Sprintf("%s takes %s, not %s", short(r.URL.Path), strings.Join(allow, " or "), short(r.Method))
	s.refuse(w, r, badRequest{"", why, http.StatusMethodNotAllowed})
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
