package page

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/page/access"
	"rindkeep/wheel/variety"

	"github.com/google/go-cmp/cmp"
)

// inside is a value of a JSON document: "wheels.0" is the first of its wheels.
func inside(doc any, path string) any {
	for _, k := range strings.Split(path, ".") {
		switch d := doc.(type) {
		case map[string]any:
			doc = d[k]
		case []any:
			if n, err := strconv.Atoi(k); err == nil && n < len(d) {
				doc = d[n]
				continue
			}
			return nil
		default:
			return nil
		}
	}
	return doc
}

// photo is a small picture as it is sent.
func photo() string {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		panic(err)
	}
	return base64.StdEncoding.EncodeToString(b.Bytes())
}

func TestASafetyHoldIsLiftedOnThePageByTheSameRule(t *testing.T) {
	st := newStage(t)
	nora := with(isJSON, "Cookie", st.person("Nora", access.Writer)["Cookie"])
	bram := with(isJSON, "Cookie", st.person("Bram", access.Writer)["Cookie"])
	const why = `"why":"report 4417: not detected in 25 g"`
	for _, c := range []struct {
		name      string
		who       map[string]string
		act, body string
		status    int
		said      string // the code of the refusal
	}{
		{"a hold", nora, "hold",
			`{"wheels":["a"],"why":"Listeria test awaited","kind":"test","at":"2026-11-25T06:00:00Z"}`, 200, ""},
		{"no reason", nora, "release", `{"wheels":["a"],"why":"x","sure":true}`, 422, "reason-says-nothing"},
		{"the one person is asked again", nora, "release", `{"wheels":["a"],` + why + `}`, 422, "lifts-safety-hold"},
		{"so is the one who sends", nora, "send",
			`{"wheels":["a"],"to":"Shop","override":"sample for the laboratory"}`, 422, "lifts-safety-hold"},
		{"another", bram, "release", `{"wheels":["a"],` + why + `,"sure":true}`, 422, "nobody-may-lift-safety-holds"},
		{"an ordinary hold", nora, "hold",
			`{"wheels":["a"],"why":"for the Corner Shop","kind":"reserved","at":"2026-11-25T06:00:00Z"}`, 200, ""},
		{"that anybody lifts", bram, "release", `{"wheels":["a"],"why":"x","kind":"reserved"}`, 200, ""},
	} {
		r := st.do("POST", "/api/"+c.act, c.who, c.body)
		var said struct {
			Code string
			Sure bool
		}
		if err := json.Unmarshal([]byte(saidBy(t, r)), &said); err != nil {
			t.Fatal(err)
		}
		if r.StatusCode != c.status || said.Code != c.said || said.Sure != (c.said == "lifts-safety-hold") {
			t.Errorf("%s: %d %+v", c.name, r.StatusCode, said)
		}
	}
	page := saidBy(t, st.do("GET", "/held", nora, ""))
	for _, want := range []string{"1 wheel held for 1 reason", "SAFETY: test", "Listeria test awaited", "by Nora"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page of what is held lacks %q:\n%s", want, page)
		}
	}
}

func TestASampleAndItsResultAreOnTheLotsPage(t *testing.T) {
	st := newStage(t)
	eu := library.Follow{Countries: "EU"}
	if _, err := library.FollowLaw(t.Context(), st.server.opt.App, app.Caller{By: "Nora"}, eu); err != nil {
		t.Fatal(err)
	}
	nora := with(isJSON, "Cookie", st.person("Nora", access.Writer)["Cookie"])
	for _, c := range []struct {
		name, act, body string
		status          int
		page            []string // what the lot's page says then
	}{
		{"a sample", "sample", `{"lot":"261121A","tests":["listeria"],"lab":"North Lab","number":"L-1"}`, 200,
			[]string{"<b>OPEN:</b> Listeria monocytogenes, sample L-1, North Lab: result awaited since"}},
		{"a result that says too little", "result", `{"lot":"261121A","found":"not detected"}`, 400, nil},
		{"a result that shows nothing", "result", `{"lot":"261121A","found":"<10"}`, 200,
			[]string{"<b>OPEN:</b> Listeria monocytogenes, sample L-1: &lt;10", "NOT shown to be within the limit"}},
		{"another sample", "sample", `{"lot":"261121A","tests":["listeria"],"number":"L-2"}`, 200, nil},
		{"a result that is good", "result", `{"lot":"261121A","sample":"L-2","found":"ND in 25 g","report":"4417"}`, 200,
			[]string{"<p>Listeria monocytogenes, sample L-2: not detected in 25 g, report 4417; within the limit"}},
	} {
		r := st.do("POST", "/api/"+c.act, nora, c.body)
		if said := saidBy(t, r); r.StatusCode != c.status {
			t.Errorf("%s: %d %s", c.name, r.StatusCode, said)
		}
		page := saidBy(t, st.do("GET", "/lot/261121A", nora, ""))
		for _, want := range c.page {
			if !strings.Contains(page, want) {
				t.Errorf("%s: the lot's page lacks %q:\n%s", c.name, want, page)
			}
		}
	}
	held := saidBy(t, st.do("GET", "/api/held", nora, ""))
	if !strings.Contains(held, `"why":"Listeria monocytogenes, L-1, \u003c10`) &&
		!strings.Contains(held, `Listeria monocytogenes, L-1, <10`) {
		t.Errorf("what is held: %s", held)
	}
}

func TestWhatWasSentIsStruckByItsID(t *testing.T) {
	const (
		first  = "01a212d7-2dba-796f-b6c8-34d6aa000007"
		second = "01a212d7-2dba-796f-b6c8-34d6aa000008"
		third  = "01a212d7-2dba-796f-b6c8-34d6aa000009"
	)
	st := newStage(t)
	for _, c := range []struct{ act, body, schema string }{
		{"hold", `{"wheels":["a"],"why":"test","kind":"quality","id":"` + first + `"}`, "rindkeep/recorded/1"},
		{"release", `{"wheels":["a"],"why":"clear","id":"` + second + `"}`, "rindkeep/recorded/1"},
		{"strike", `{"id":"` + second + `","why":"slip"}`, "rindkeep/strike/1"},
		{"strike", `{"entry":"` + first + `","id":"` + third + `","why":"slip"}`, "rindkeep/strike/1"},
		{"strike", `{"entry":"` + first + `","id":"` + second + `","why":"slip"}`, "rindkeep/known/1"},
	} {
		r := st.do("POST", "/api/"+c.act, isJSON, c.body)
		if said := saidBy(t, r); r.StatusCode != http.StatusOK || !strings.Contains(said, c.schema) {
			t.Errorf("%s %s: %d %s", c.act, c.body, r.StatusCode, said)
		}
	}
}

func TestWhatIsSentIsWhatIsRecorded(t *testing.T) {
	tomme, _ := variety.Find("tomme")
	own, err := json.Marshal(strings.Replace(tomme.Text, `"tomme"`, `"fell-tomme"`, 1))
	if err != nil {
		t.Fatal(err)
	}
	tried := map[string]bool{"did": true, "skip": true, "air": true, "customer": true, "strike": true, "release": true,
		"import": true, "result": true, "sites-receive": true, "sites-settle": true} // elsewhere
	for _, c := range []struct {
		name, act, body string
		want            map[string]any
	}{
		{"a make", "make", `{"variety":"gouda","wheels":2,"weights":[2100,"2.1kg"],"litres":"40",
			"curd":"5kg","salt_rate":"1.8%","set_aside":"200g","set_aside_for":"lab","moisture":41.5,"diameter":"18cm",
			"height":"9cm","place":"cellar/A/1","date":"2026-11-24"}`,
			map[string]any{
				"schema": "rindkeep/make-new/1", "wheels.1": "261124A-02", "make.by": "Nora", "make.milk_l": 40.0,
				"make.curd_g":        5000.0,
				"make.salt_rate_pct": 1.8, "make.set_aside_g": 200.0, "make.set_aside_for": "lab", "make.start_moisture_pct": 41.5,
				"make.start_measured": true, "make.date": "2026-11-24",
			}},
		{"a correction of a make", "correct", `{"lot":"261121A","date":"2026-11-20","sold_as":"Fell","litres":"80",
			"wheels":"3","why":"misread"}`,
			map[string]any{
				"schema": "rindkeep/make-correct/1", "make.date": "2026-11-20", "make.sold_as": "Fell", "make.milk_l": 80.0,
				"changes.0.field": "date", "wheels_added.0": "261121A-03",
			}},
		{"the removal of a make", "void", `{"lot":"261121A","why":"twice","sure":true}`,
			map[string]any{"schema": "rindkeep/make-void/1", "lot": "261121A", "wheels.1": "a"}},
		{"a weight as typed", "weigh", `{"wheel":"a","weight":"9.942kg","note":"x"}`,
			map[string]any{"results.0.gross_g": 9942.0, "said.0": "a  9942 g  green weight: drying begins Wed 25 Nov"}},
		{"a weight in grams", "weigh", `{"wheel":"a","weight_g":9.942e3,"sure":false}`,
			map[string]any{"results.0.gross_g": 9942.0}},
		{"a hand check", "check", `{"wheels":["a"],"dry_to_touch":"yes","cracks":"no","gas":"no"}`,
			map[string]any{"schema": "rindkeep/check/1", "wheels.0": "a", "sound": true,
				"found": "dry to the touch, no cracks, no gas"}},
		{"a coat", "coat", `{"wheels":["a"],"coat":"wax","before":9005,"after":"9.048kg","sure":true}`,
			map[string]any{"schema": "rindkeep/coat/1", "coat": "wax", "coat_g": 43.0}},
		{"a move", "move", `{"wheels":["a"],"place":"cellar/B/1"}`,
			map[string]any{"schema": "rindkeep/recorded/1", "what": "moved to cellar/B/1", "wheels.0": "a"}},
		{"a tag", "tag", `{"wheel":"a","tag":"b"}`,
			map[string]any{"schema": "rindkeep/recorded/1", "what": "tagged b", "wheels.0": "a"}},
		{"a note", "note", `{"wheel":"a","text":"--x"}`, map[string]any{"what": "noted on", "wheels.0": "a"}},
		{"a note with a photo", "note", `{"wheel":"a","text":"x","photo":"` + photo() + `"}`,
			map[string]any{"wheels.0": "a"}},
		{"a note on a lot", "note", `{"lot":"261121A","text":"x"}`,
			map[string]any{"schema": "rindkeep/note/1", "of": "261121A", "note": "x"}},
		{"a tasting", "taste",
			`{"wheel":"a","scores":{"flavour":4,"texture":"5"},"faults":["bitter","feed"],
				"faults_own":["a \"soapy\" end"],"core":"12g"}`,
			map[string]any{
				"found.flavour": 4.0, "found.texture": 5.0, "found.faults": []any{"bitter", "feed", `a "soapy" end`},
				"core_g":         12.0,
				"checks_asked.0": "261121A-01",
			}},
		{"a hold", "hold", `{"what":["261121A"],"why":"test"}`, map[string]any{"what": "held", "wheels.1": "a"}},
		{"a loss", "lost", `{"wheels":["a"],"why":"blown"}`, map[string]any{"what": "wrote off", "wheels.0": "a"}},
		{"a sale of a piece", "send",
			`{"wheels":["a"],"to":"Shop","weight":"0.4kg","part":true,"sure":true,"document":"D1","override":"lab"}`,
			map[string]any{"what": "sent a piece to Shop", "wheels.0": "a"}},
		{"a sample", "sample", `{"lot":"261121A","tests":["listeria","Salmonella"],"lab":"North Lab","number":"L-1"}`,
			map[string]any{"schema": "rindkeep/make-sample/1", "sample": "L-1", "tests.0.test": "Listeria monocytogenes"}},
		{"the first hour", "start", `{"place":"my fridge/1/2","variety":"gouda","made":"2026-11-24","wheels":"3",
			"weights":"2,08kg, , 2095","treatment":"raw"}`,
			map[string]any{
				"new_room": true, "room.name": "fridge", "room.temp_c": 10.0, "wheels.2": "261124A-03", "taken_over": false,
				"said.0": "lot 261124A, Gouda, plastic-coated: 3 wheels, 261124A-01 to -03",
				"said.2": "Not weighed yet: 261124A-02. Weigh each as drying starts.",
			}},
		{"older wheels by start", "start", `{"place":"Cellar","variety":"cheddar-waxed","wheels":2,"coated":"yes",
			"coated_on":"2026-10-01"}`, map[string]any{"new_room": false, "room.name": "cellar", "taken_over": true}},
		{"a delivery", "receive", `{"from":"Fern Bank Dairy","lot":"FB-0412","document":"5531","variety":"tomme",
			"made":"2026-09-30","treatment":"raw","wheels":2,"weights":["1.9kg"],"place":"cellar/B","price":"11.40 EUR",
			"temp":6,"coat":"oil","coated":"2026-10-05","last":["turn=2026-11-20"]}`,
			map[string]any{
				"schema": "rindkeep/make-receive/1", "supplier": "Fern Bank Dairy", "maker_lot": "FB-0412", "price_per_kg": 11.4,
				"arrival_temp_c": 6.0, "document_type": "delivery note", "wheels.1": "FB-0412-02", "make.lot": "FB-0412",
			}},
		{"older wheels of one's own", "take-over", `{"lot":"OLD7","variety":"tomme","wheels":"2","here":"2026-10-01"}`,
			map[string]any{"make.lot": "OLD7", "supplier": "", "arrived_on": "2026-11-25"}},
		{"milk in a make's log", "log", `{"lot":"261121A","what":"milk","litres":"120","source":"Hill Farm",
			"treatment":"pasteurised","heat":"72","heat_for":"15s","batch":"H1120","at":"2026-11-21T07:00:00Z"}`,
			map[string]any{"schema": "rindkeep/make-log/1", "line.source": "Hill Farm", "line.heat_temp_c": 72.0,
				"line.heat_s": 15.0, "line.lot": "H1120"}},
		{"a load on the press", "log", `{"lot":"261121A","what":"press","load":"10kg","lever":4,"turned":true,
			"at":"2026-11-21T08:00:00Z"}`, map[string]any{"line.load_g": 10000.0, "line.lever_ratio": 4.0, "line.turned": true}},
		{"a new room", "room", `{"name":"shed","temp":"9","rh":80,"racks":"A:5x10, B:4x8","air":"brisk","order":"1"}`,
			map[string]any{"room.capacity": 82.0, "room.temp_high_c": 11.0, "room.movement": "brisk", "room.order": 1.0}},
		{"another set point", "room", `{"name":"cellar","temp":"10,5"}`,
			map[string]any{"room.temp_c": 10.5, "room.temp_high_c": 12.5, "room.rh_pct": 85.0}},
		{"a plan of one's own", "plan",
			`{"toml":"name = \"my-plan\"\ntitle = \"Mine\"\n[[step]]\njob = \"turn\"\nevery = \"2d\"\n"}`,
			map[string]any{"schema": "rindkeep/plan-good/1", "name": "my-plan"}},
		{"a kind of one's own", "variety", `{"toml":` + string(own) + `}`,
			map[string]any{"schema": "rindkeep/variety-good/1", "name": "fell-tomme", "title": "Tomme, natural rind"}},
		{"a make of one weight", "make", `{"variety":"gouda","wheels":"3","weight":"2kg"}`,
			map[string]any{"make.wheels": 3.0}},
	} {
		tried[c.act] = true
		t.Run(c.name, func(t *testing.T) {
			st := newStage(t)
			r := st.do("POST", "/api/"+c.act, with(isJSON, "Cookie", st.person("Nora", access.Writer)["Cookie"]), c.body)
			said := saidBy(t, r)
			var doc any
			if err := json.Unmarshal([]byte(said), &doc); r.StatusCode != http.StatusOK || err != nil {
				t.Fatalf("%d %s", r.StatusCode, said)
			}
			for path, want := range c.want {
				if d := cmp.Diff(want, inside(doc, path)); d != "" {
					t.Errorf("%s (-want +got):\n%s", path, d)
				}
			}
		})
	}
	for _, a := range acts {
		if !tried[a.name] {
			t.Errorf("%s is not tried: add it", a.name)
		}
	}
}

// What a phone queued before an update, without a signal, is taken after it.
func TestEntriesQueuedByAnOlderPageAreTaken(t *testing.T) {
	st := newStage(t)
	for i, c := range []struct{ act, body string }{
		{"weigh", `"wheel":"a","weight":"9020g"`},
		{"weigh", `"wheel":"a","weight":"12lb","sure":true`},
		{"did", `"job":"turn","wheels":["a","261121A-01"]`},
		{"skip", `"job":"wash","wheels":["a"],"why":"soft"`},
		{"check", `"wheels":["a"],"dry_to_touch":"yes","cracks":"no","weeping":"no","mould":"no","mites":"no","gas":"no"`},
		{"coat", `"wheels":["261121A-01"],"coat":"wax","before":"8900","after":"8943","sure":true`},
		{"move", `"wheels":["a"],"place":"cellar/B/1"`},
		{"note", `"wheel":"a","text":"small crack","photo":"` + photo() + `"`},
		{"strike", `"entry":"01a212d7-2dba-796f-b6c8-000000000000","why":"undone on the phone"`},
	} {
		sent := fmt.Sprintf(`{%s,"id":"01a212d7-2dba-796f-b6c8-00000000000%d","at":"2026-11-25T07:0%d:00.000Z","by":"Nora"}`,
			c.body, i, i)
		for range 2 { // a lost answer has it sent again
			if r := st.do("POST", "/api/"+c.act, isJSON, sent); r.StatusCode != http.StatusOK {
				t.Errorf("%s %s: %d %s", c.act, c.body, r.StatusCode, saidBy(t, r))
			}
		}
	}
}

// A form shows a fault at the field it is in, so every refusal has to name one.
func TestEachFaultIsAtItsField(t *testing.T) {
	st := newStage(t)
	for _, c := range []struct{ act, body, where string }{
		{"start", `"place":"a/b/c/d","variety":"gouda","wheels":"2"`, "place"},
		{"start", `"place":"fridge","variety":"gouda","wheels":"2","temp":"90C"`, "temp"},
		{"start", `"place":"fridge","variety":"gouda","wheels":"2","rh":"8"`, "rh"},
		{"start", `"place":"fridge","variety":"fondue","wheels":"2"`, "variety"},
		{"start", `"place":"fridge","variety":"gouda","wheels":"two"`, "wheels"},
		{"start", `"place":"fridge","variety":"gouda","wheels":"0"`, "wheels"},
		{"start", `"place":"fridge","variety":"gouda","wheels":"4","weights":"480,495"`, "weights"},
		{"start", `"place":"fridge","variety":"gouda","wheels":"1","weights":"2.080","made":"2026-11-25"`, "weights"},
		{"start", `"place":"fridge","variety":"gouda","wheels":"1","weights":"40g","made":"2026-11-25"`, "weights"},
		{"start", `"place":"fridge","variety":"gouda","wheels":"1","made":"2026-12-24"`, "made"},
		{"start", `"place":"fridge","variety":"gouda","wheels":"1","made":"2026-11-24","coated":"yes"`, "coated"},
		{"start", `"place":"fridge","variety":"gouda","wheels":"1","rind":"foil"`, "rind"},
		{"receive", `"from":"Fern Bank","variety":"tomme","wheels":"2","made":"2026-12-01"`, "made"},
		{"receive", `"from":"Fern Bank","variety":"tomme","wheels":"2","price":"much"`, "price"},
		{"receive", `"from":"Fern Bank","variety":"tomme","wheels":"2","last":["turn"]`, "last"},
		{"receive", `"from":"Fern Bank","variety":"tomme","wheels":"2","last":["fly=2026-11-20"]`, "last"},
		{"receive", `"from":"Fern Bank","variety":"tomme","wheels":"2","coated":"2026-11-20"`, "coated"},
		{"receive", `"from":"Fern Bank","variety":"tomme","wheels":"2","coat":"mud"`, "coat"},
		{"receive", `"from":"Fern Bank","variety":"tomme","wheels":"2","place":"attic"`, "place"},
		{"receive", `"from":"Fern Bank","variety":"tomme","wheels":"2","temp":"hot"`, "temp"},
		{"take-over", `"variety":"tomme","wheels":"2","here":"2026-12-20"`, "here"},
		{"log", `"lot":"261121A","what":"milk"`, "litres"},
		{"log", `"lot":"261121A","what":"milk","litres":"9","treatment":"raw","heat":"70"`, "heat"},
		{"log", `"lot":"261121A","what":"ingredient","kind":"rennet"`, "name"},
		{"log", `"lot":"261121A","what":"acidity"`, "ph"},
		{"log", `"lot":"261121A","what":"acidity","ph":"12"`, "ph"},
		{"log", `"lot":"261121A","what":"temp"`, "temp"},
		{"log", `"lot":"261121A","what":"curd"`, "weight"},
		{"log", `"lot":"261121A","what":"salt","rate":"1.8"`, "weight"},
		{"log", `"lot":"261121A","what":"set-aside","weight":"4kg","into":"261121A"`, "into"},
		{"log", `"lot":"261121A","what":"press","load":"10kg","lever":"2000"`, "lever"},
		{"log", `"lot":"261121A","what":"step"`, "stage"},
		{"log", `"lot":"261121A","what":"composition","moisture":"5"`, "moisture"},
		{"log", `"lot":"261121A","what":"curd","weight":"9kg","at":"tomorrow"`, "at"},
		{"plan", `"toml":"name = \"my-plan\"\ntitle = \"Mine\"\n[[step]]\njob = \"fly\"\nevery = \"2d\"\n"`, "toml"},
		{"plan", `"toml":"turn it every day"`, "toml"},
		{"variety", `"toml":"name = \"x\""`, "toml"},
		{"room", `"name":"a/b"`, "name"},
		{"room", `"name":"cellar","temp":"60"`, "temp"},
		{"room", `"name":"cellar","rh":"5"`, "rh"},
		{"room", `"name":"cellar","temp_low":"13"`, "temp_low"},
		{"room", `"name":"cellar","rh_high":"50"`, "rh_high"},
		{"room", `"name":"cellar","air":"stormy"`, "air"},
		{"room", `"name":"cellar","racks":"A:many"`, "racks"},
		{"room", `"name":"cellar","racks":"A:0x5"`, "racks"},
		{"room", `"name":"cellar","order":"first"`, "order"},
	} {
		r := st.do("POST", "/api/"+c.act, isJSON, "{"+c.body+"}")
		var said Refusal
		if err := json.Unmarshal([]byte(saidBy(t, r)), &said); err != nil || r.StatusCode < 400 || said.Where != c.where {
			t.Errorf("%s %s: %d at %q, want %q: %s", c.act, c.body, r.StatusCode, said.Where, c.where, said.Error)
		}
	}
}
