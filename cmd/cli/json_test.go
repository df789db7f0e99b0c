package cli

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// shapeOf lists the fields of a document with their types, one a line: lists
// are marked [], and a field that has more than one type over a list's
// elements lists them all.
func shapeOf(v any) []string {
	types := map[string]map[string]bool{}
	var walk func(path string, v any)
	walk = func(path string, v any) {
		kind := ""
		switch x := v.(type) {
		case nil:
			kind = "null"
		case bool:
			kind = "bool"
		case float64:
			kind = "number"
		case string:
			kind = "string"
		case []any:
			kind = "list"
			if strings.HasSuffix(path, "reasons") {
				break // cmd/words pins the figures of every reason
			}
			for _, e := range x {
				walk(path+"[]", e)
			}
		case map[string]any:
			kind = "object"
			for k, e := range x {
				walk(strings.TrimPrefix(path+"."+k, "."), e)
			}
		}
		if path == "" {
			return
		}
		if types[path] == nil {
			types[path] = map[string]bool{}
		}
		types[path][kind] = true
	}
	walk("", v)
	var out []string
	for p, kinds := range types {
		var ks []string
		for k := range kinds {
			ks = append(ks, k)
		}
		slices.Sort(ks)
		out = append(out, p+" "+strings.Join(ks, " or "))
	}
	slices.Sort(out)
	return out
}

// golden compares text with a file under testdata; -update rewrites it.
func golden(t *testing.T, name, got string) {
	t.Helper()
	p := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(p)
	if err != nil {
		t.Fatalf("%v; go test ./cmd/cli -update writes it", err)
	}
	if d := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); d != "" {
		t.Errorf("%s (-want +got):\n%s", p, d)
	}
}

// jsonWorld has something of everything that JSON documents tell of.
func jsonWorld(t testing.TB) *world {
	w := newWorld(t).kept()
	w.must("make new --variety tomme --wheels 2 --milk cow --treatment raw --litres 40 --curd 4.2kg --set-aside 200g " +
		"--set-aside-for whey --salt-rate 1.8% --salt-where curd --milk-fat 3.9% --milk-protein 3.4% --note late --on " +
		"2026-09-20 --quiet")
	w.must("check 261110A-01 261110A-02 --dry-to-touch --cracks no --weeping no --mould no --at 2026-11-24T09:30")
	w.must("coat 261110A-01 wax --before 2038 --after 2096 --at 2026-11-24T10:00")
	w.must("weigh 261110A-03 2025 --at 2026-11-24T09:00")
	w.must("wheel hold 261110A-03 --why tests")
	w.must("wheel core 261110A-04 --before 2028 --after 2016 --removed 12 --at 2026-11-24T12:00")
	w.must("make note 261110A slow")
	w.must("weigh 261110A-02 1900 --sure --at 2026-11-24T09:00")
	w.must("strike last --why mis-keyed")
	w.must("wheel send 260920A-02 --to Shop --weight 1.6kg")
	return w
}

func TestEveryJSONDocumentKeepsItsFields(t *testing.T) {
	w := jsonWorld(t)
	w.must("make note 261110A pale --photo " + w.file("curd.jpg", string(jpegOf(t, 8, 8))))
	w.must("customer new Dairy --contact 01")
	fit := w.file("fit.csv", "day,weight_g\n0,2100\n1,2088\n3,2070\n7,2046\n14,2019\n")
	plan := w.file("plan.toml", "name = \"mine\"\ntitle = \"Mine\"\n\n[[step]]\njob = \"turn\"\nevery = \"2d\"\n")
	own := strings.Replace(w.must("variety show tomme"), `"tomme"`, `"my-tomme"`, 1)
	variety := w.file("variety.toml", own)
	big := filepath.Join(w.dir, "demo.book")
	for _, c := range []struct{ name, line string }{
		{"today", "today"},
		{"dry", "dry all"},
		{"dry-if", "dry 261110A-03 --if coat=cloth,+7d --if rh=95"},
		{"curve", "curve 261110A-02"},
		{"find", "find 261110A --most 5"},
		{"find-notes", "find pale"},
		{"find-customers", "find dairy"},
		{"find-wheels", "find 261110A-02"},
		{"make-list", "make list"},
		{"make", "make show 260920A"},
		{"make-with-a-note", "make show 261110A"},
		{"wheel-list", "wheel list all --gone"},
		{"wheel", "wheel show 261110A-02 --history 0"},
		{"wheel-coated", "wheel show 261110A-01"},
		{"room-list", "room list"},
		{"room", "room show drying"},
		{"plan-list", "plan list"},
		{"plan", "plan show waxed-hard"},
		{"plan-good", "plan check " + plan},
		{"variety-list", "variety list"},
		{"variety", "variety show tomme"},
		{"variety-good", "variety check " + variety},
		{"version", "version"},
		{"book-info", "book info"},
		{"book-check", "book check"},
		{"book-backups", "book backups"},
		{"work-salt", "work salt --curd 4.2kg --rate 1.8% --moisture 37%"},
		{"work-moisture", "work moisture --start 39% --loss 5% --fat 31% --salt 1.7%"},
		{"work-air", "work air --temp 12 --rh 85"},
		{"work-curve", "work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38% --temp 12 --rh 80 --days 3"},
		{"work-fit", "work fit --from " + fit},
		{"work-fit-plain", "work fit --from " + fit + " --prior none"},
		// What changes the book tells in JSON what it did.
		{"weigh", "weigh 261110A-02 2026"},
		{"did", "did turn all"},
		{"skip", "skip turn all --why tired"},
		{"check", "check 261110A-02 --cracks no"},
		{"coat", "coat 261110A-02 wax --before 2026 --after 2080"},
		{"make-new", "make new --variety edam --wheels 1"},
		{"make-receive", "make receive --from Fern --lot F1 --document 7 --variety edam --wheels 1 --temp 6C --price 9"},
		{"book-site", "book site --name Ash --address Hollow"},
		{"make-note", "make note 261110A more"},
		{"held", "wheel held"},
		{"limit-list", "limit list"},
		{"limit", "limit show eu-listeria"},
		{"law-follow", "law follow US"},
		{"make-sample", "make sample 261110A --test listeria --lab North"},
		{"make-result", "make result 261110A --found <10"},
		{"make-results", "make results --from " + w.file("results.csv", "ref,result\n261110A-S1,<10\n") +
			" --map sample=ref --mapping North"},
		{"book-mappings", "book mappings"},
		{"make-samples", "make samples"},
		{"book-releasers", "book releasers Nora"},
		{"make-correct", "make correct 261110A --sold-as Fell --wheels 5 --why misread"},
		{"make-corrected", "make show 261110A"},
		{"make-void", "make void 261125A --why entered-twice-here --sure"},
		{"wheel-recorded", "wheel hold 261110A-02 --why tests --kind quality"},
		{"strike", "strike last --why wrong"},
		{"room-new", "room new cellar"},
		{"plan-add", "plan add " + plan},
		{"variety-add", "variety add " + variety},
		{"book-backup", "book backup " + filepath.Join(w.dir, "copy.book")},
		{"book-restore", "book restore " + filepath.Join(w.dir, "copy.book") + " --replace"},
		{"book-salvage", "book salvage " + filepath.Join(w.dir, "saved.book")},
		{"book-rebuild", "book rebuild"},
		{"book-compact", "book compact"},
		{"sites-found", "sites found north --via " + w.dir},
		{"sites-invite", "sites invite south"},
		{"sites-exchange", "sites exchange"},
		{"sites", "sites"},
		{"start", "start --place shed --variety edam --wheels 2 --weights 1700,"},
		{"demo", "demo --book " + big},
	} {
		var v map[string]any
		w.doc(&v, c.line)
		if s, _ := v["schema"].(string); !regexp.MustCompile(`^rindkeep/[a-z-]+/1$`).MatchString(s) {
			t.Errorf("rindkeep %s --json: schema is %q", c.line, s)
		}
		golden(t, filepath.Join("json", c.name+".txt"), strings.Join(shapeOf(v), "\n")+"\n")
	}
	// Another site joins, leaves, and is revoked.
	south := " --book " + filepath.Join(w.dir, "south.book")
	text := strings.Fields(w.must("sites invite south --quiet"))[0]
	var joined, left, revoked map[string]any
	w.doc(&joined, "sites join "+text+south)
	golden(t, "json/sites-join.txt", strings.Join(shapeOf(joined), "\n")+"\n")
	w.must("sites exchange --quiet")
	w.must("sites exchange --quiet" + south)
	w.must("sites exchange --quiet")
	w.doc(&left, "sites leave --sure"+south)
	golden(t, "json/sites-leave.txt", strings.Join(shapeOf(left), "\n")+"\n")
	w.doc(&revoked, "sites revoke south --why lost")
	golden(t, "json/sites-revoke.txt", strings.Join(shapeOf(revoked), "\n")+"\n")
}

// contract is what the documents must hold whatever the golden files say:
// names and types that other programs rely on.
var contract = []struct {
	line, schema string
	fields       []string
}{
	{"today", "today", []string{
		"date string", "tasks[].job string", "tasks[].wheels list", "tasks[].wheels[] string", "tasks[].lot string",
		"tasks[].place string", "tasks[].due string",
		"tasks[].late_days number", "tasks[].round number", "tasks[].rounds number", "tasks[].rounds_left number",
		"tasks[].whole_shelf bool", "tasks[].minutes number", "tasks[].why string",
		"totals.wheels number", "totals.tasks number", "totals.minutes number"}},
	{"weigh 261110A-02 2026", "weigh", []string{
		"results[].wheel string", "results[].at string", "results[].gross_g number", "results[].net_g number",
		"results[].loss_pct number",
		"results[].moisture_pct.best number", "results[].moisture_pct.low number", "results[].moisture_pct.high number",
		"results[].rate_pct_per_day.best number", "results[].rate_pct_per_day.low number",
		"results[].rate_pct_per_day.high number",
		"results[].expected_loss_pct.best number", "results[].expected_loss_pct.low number",
		"results[].expected_loss_pct.high number", "results[].standing string"}},
	{"dry 261110A-03", "dry", []string{
		"wheels[].wheel string", "wheels[].verdict string", "wheels[].loss_pct number", "wheels[].moisture_pct.best number",
		"wheels[].rate_pct_per_day.best number",
		"wheels[].rules[].rule string", "wheels[].rules[].met bool", "wheels[].rules[].have string",
		"wheels[].rules[].need string",
		"wheels[].expected_on null", "wheels[].advice string"}},
	{"dry 261110A-03 --at 2026-11-12T10:00", "dry",
		[]string{"wheels[].expected_on.best string", "wheels[].expected_on.low string", "wheels[].expected_on.high string"}},
	{"curve 261110A-02", "curve", []string{
		"wheel string", "points[].day number", "points[].date string", "points[].loss_pct number", "expected[].day number",
		"expected[].loss_pct.best number",
		"expected[].loss_pct.low number", "expected[].loss_pct.high number", "own[].day number", "own[].loss_pct.best number",
		"own[].loss_pct.low number", "own[].loss_pct.high number"}},
	{"work air --temp 12 --rh 85", "work-air", []string{
		"saturation_pa number", "vapour_pa number", "dew_point_c number", "wet_bulb_c number", "humidity_ratio_kg_kg number",
		"deficit_pa number", "absolute_g_m3 number"}},
	{"work salt --curd 4.2kg --rate 1.8%", "work-salt", []string{"salt_g number", "salt_in_moisture_pct null"}},
	{"work salt --curd 4.2kg --rate 1.8% --moisture 37%", "work-salt",
		[]string{"salt_g number", "salt_in_moisture_pct number"}},
	{"work moisture --start 39% --loss 5%", "work-moisture",
		[]string{"moisture_pct number", "mffb_pct null", "fdm_pct null", "salt_in_moisture_pct null", "water_activity null"}},
	{"work moisture --start 39% --loss 5% --fat 31% --salt 1.7%", "work-moisture", []string{"moisture_pct number",
		"mffb_pct number", "fdm_pct number", "salt_in_moisture_pct number", "water_activity number"}},
	{"work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38% --temp 12 --rh 80 --days 3 --air still " +
		"--diffusivity 1.5e-11 --transfer 2.5e-8", "work-curve", []string{
		"first_day_rate_pct number", "root_day_rate_pct number", "points[].day number", "points[].loss_pct.best number",
		"points[].loss_pct.low number", "points[].loss_pct.high number",
		"start_moisture_pct number", "balance_moisture_pct number", "surface_transfer_kg_m2_s_pa number",
		"diffusivity_m2_s number", "biot_height number", "biot_radius number"}},
	{"work fit --from FIT", "work-fit", []string{
		"green_weight_g number", "first_day_rate_pct number", "root_day_rate_pct number", "standard_errors object",
		"residual_sd_g number", "points number"}},
}

func TestTheNamesOthersRelyOnAreThereWithTheirTypes(t *testing.T) {
	w := jsonWorld(t)
	fit := w.file("fit.csv", "day,weight_g\n0,2100\n1,2088\n3,2070\n7,2046\n14,2019\n")
	for _, c := range contract {
		var v map[string]any
		w.doc(&v, strings.Replace(c.line, "FIT", fit, 1))
		same(t, "schema of rindkeep "+c.line, v["schema"], any("rindkeep/"+c.schema+"/1"))
		shape := shapeOf(v)
		for _, f := range c.fields {
			if !slices.Contains(shape, f) {
				t.Errorf("rindkeep %s --json: no field %s; there is\n%s", c.line, f, strings.Join(shape, "\n"))
			}
		}
	}
}

func TestFiguresOfTheBenchAreThoseReckonedByHand(t *testing.T) {
	w := newWorld(t)
	for _, c := range []struct {
		line, field string
		want        float64
	}{
		{"work salt --curd 4.2kg --rate 1.8%", "salt_g", 75.6},                               // 4200 x 0.018
		{"work salt --curd 4.2kg --rate 1.8% --moisture 37%", "salt_in_moisture_pct", 4.865}, // 1.8/37
		{"work salt --curd 4.2kg --rate 1.8% --moisture 36% --kept 50%", "salt_in_moisture_pct", 2.5},
		{"work moisture --start 39% --loss 5%", "moisture_pct", 35.789},             // 1 - 0.61/0.95
		{"work moisture --start 39% --loss 5% --fat 31%", "fdm_pct", 50.82},         // 31/61
		{"work moisture --start 39% --loss 5% --fat 31%", "mffb_pct", 53.125},       // 34/(95 - 31)
		{"work moisture --start 40% --loss 0% --salt 2%", "water_activity", 0.9718}, // 1 - 0.033 x 171.1 x 2/40/10
	} {
		var v map[string]any
		w.doc(&v, c.line)
		got, _ := v[c.field].(float64)
		if d := got - c.want; d > 6e-4*c.want || d < -6e-4*c.want {
			t.Errorf("rindkeep %s: %s is %v, want %v", c.line, c.field, v[c.field], c.want)
		}
	}
}

func TestNothingIsAnEmptyListAndTheUnknownIsNull(t *testing.T) {
	w := newWorld(t)
	w.must("book new --quiet")
	for _, c := range []struct{ line, field, want string }{
		{"today", "tasks", "[]"}, {"today", "totals", `{"minutes":0,"tasks":0,"wheels":0}`},
		{"dry", "wheels", "[]"}, {"wheel list", "wheels", "[]"}, {"make list", "makes", "[]"}, {"room list", "rooms", "[]"},
		{"book check", "findings", "[]"}, {"book info", "newest_entry", "null"}, {"did turn all", "wheels", "[]"},
		{"did turn all", "no_change", "[]"},
	} {
		var v map[string]any
		w.doc(&v, c.line)
		b, _ := json.Marshal(v[c.field])
		same(t, fmt.Sprintf("%s of rindkeep %s on an empty book", c.field, c.line), string(b), c.want)
	}
	w.must("make new --variety cheddar-waxed --wheels 1 --quiet")
	for _, c := range []struct{ line, field, want string }{
		{"wheel show 261125A-01", "weight_g", "null"}, {"wheel show 261125A-01", "loss_pct", "null"},
		{"wheel show 261125A-01", "green_weight_g", "null"},
		{"wheel show 261125A-01", "drying_began", "null"}, {"wheel show 261125A-01", "holds", "[]"},
		{"wheel show 261125A-01", "entries", "[]"}, {"wheel show 261125A-01", "notes", "[]"},
		{"curve 261125A-01", "points", "[]"}, {"curve 261125A-01", "began", "null"},
	} {
		var v map[string]any
		w.doc(&v, c.line)
		b, _ := json.Marshal(v[c.field])
		same(t, fmt.Sprintf("%s of rindkeep %s, never weighed", c.field, c.line), string(b), c.want)
	}
	var d struct {
		Wheels []struct {
			Verdict  string
			Loss     *float64 `json:"loss_pct"`
			Standing *string
		}
	}
	w.doc(&d, "dry 261125A-01")
	if len(d.Wheels) != 1 || d.Wheels[0].Verdict != "no-weights" || d.Wheels[0].Loss != nil ||
		d.Wheels[0].Standing != nil {
		t.Errorf("a wheel never weighed: %+v, want no-weights, no loss and no standing", d)
	}
}
