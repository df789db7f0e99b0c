package cli

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rindkeep/cmd/app/trade"
)

// kde is a key data element of 21 CFR 1.1340, 1.1345 or 1.1350: the columns that hold it.
type kde struct {
	element string
	columns []string
}

// The elements, and where they were read.
var (
	// 21 CFR 1.1345(a), eCFR current to 5 April 2026, read 2026-11-28.
	receiving = []kde{
		{"the traceability lot code", []string{"lot_code"}},
		{"quantity and unit of measure", []string{"quantity", "unit"}},
		{"product description", []string{"description"}},
		{"location description of the immediate previous source, not the carrier",
			[]string{"previous_source", "previous_source_contact", "previous_source_address"}},
		{"location description where the food was received", []string{"received_at"}},
		{"date received", []string{"date"}},
		{"location description of the lot code source, or a reference to it", []string{"lot_code_given_by"}},
		{"reference document type and number", []string{"reference_document_type", "reference_document"}},
	}
	// 21 CFR 1.1340(a), same edition, read 2026-11-28.
	shipping = []kde{
		{"the traceability lot code", []string{"lot_code"}},
		{"quantity and unit of measure", []string{"quantity", "unit"}},
		{"product description", []string{"description"}},
		{"location description of the immediate subsequent recipient, not the carrier",
			[]string{"recipient", "recipient_contact", "recipient_address"}},
		{"location description from which the food was shipped", []string{"made_at_or_shipped_from"}},
		{"date shipped", []string{"date"}},
		{"location description of the lot code source, or a reference to it", []string{"lot_code_given_by"}},
		{"reference document type and number", []string{"reference_document_type", "reference_document"}},
	}
	// 21 CFR 1.1350(a), in a secondary source, read 2026-11-28. Milk isn't on the food
	// traceability list, so a maker's transformation has no listed inputs.
	produced = []kde{
		{"the new traceability lot code", []string{"lot_code"}},
		{"location description where it was transformed: the lot code source",
			[]string{"made_at_or_shipped_from", "lot_code_given_by"}},
		{"date transformation was completed", []string{"date"}},
		{"product description", []string{"description"}},
		{"quantity and unit of measure", []string{"quantity", "unit"}},
		{"reference document type and number", []string{"reference_document_type", "reference_document"}},
	}
	used = []kde{
		{"lot code of each input on the list", []string{"made_from_lot_codes"}},
		{"product description of the input", []string{"input_description"}},
		{"quantity and unit of measure used", []string{"input_quantity", "input_unit"}},
	}
)

// sheetOf gives the rows of the traceability sheet of a lot by column, from its CSV.
func sheetOf(t *testing.T, w *world, lot string) []map[string]string {
	t.Helper()
	file := filepath.Join(w.dir, lot+".csv")
	w.must("trace " + lot + " --fsma " + file)
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(b), "\ufeff"))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(rows[0], trade.FSMAHead) {
		t.Fatalf("its columns are %q", rows[0])
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, h := range rows[0] {
			m[h] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// holds checks that a row has every element, with the values given in their order.
func holds(t *testing.T, row map[string]string, event string, elements []kde, want ...string) {
	t.Helper()
	if row["event"] != event {
		t.Fatalf("a row of %s, want %s: %v", row["event"], event, row)
	}
	for _, k := range elements {
		for _, c := range k.columns {
			if len(want) == 0 {
				t.Fatalf("%s, %s: no value given for column %s", event, k.element, c)
			}
			if row[c] != want[0] {
				t.Errorf("%s, %s: column %s is %q, want %q", event, k.element, c, row[c], want[0])
			}
			want = want[1:]
		}
	}
	if len(want) > 0 {
		t.Errorf("%s: values left over: %q", event, want)
	}
}

const (
	ash  = "Hollow Ash Dairy, Elm Hollow, 555-0100"
	fern = "Fern Bank Dairy, Fern Lane 4, 555-0199"
)

// cellarOf is a book with a site, a supplier, a maker and a customer, all invented.
func cellarOf(t *testing.T) *world {
	w := newWorld(t)
	w.must("book new --quiet")
	for _, args := range [][]string{
		{"book", "site", "--name", "Hollow Ash Dairy", "--address", "Elm Hollow", "--contact", "555-0100"},
		{"customer", "new", "Fern Bank Dairy", "--address", "Fern Lane 4", "--contact", "555-0199"},
		{"customer", "new", "Wold Cheese Trade", "--address", "Wold Road 1", "--contact", "555-0177"},
		{"customer", "new", "Shop", "--address", "Market 7", "--contact", "555-0123"},
	} {
		if r := w.run(args...); r.Code != 0 {
			t.Fatalf("%q: %s", args, r.Err)
		}
	}
	return w
}

var bought = []string{
	"make", "receive", "--from", "Wold Cheese Trade", "--maker", "Fern Bank Dairy", "--lot", "FB 12/26",
	"--document", "5531", "--document-type", "invoice", "--variety", "tomme", "--made", "2026-08-01",
	"--treatment", "pasteurised", "--wheels", "3",
	"--weight", "1900", "--on", "2026-11-10",
}

func (w *world) sends(t *testing.T, tag string) {
	t.Helper()
	r := w.run("wheel", "send", tag, "--to", "Shop", "--weight", "1880", "--document", "DN-1", "--on", "2026-11-20")
	if r.Code != 0 {
		t.Fatal(r.Err)
	}
}

func TestTheTraceabilitySheetOfAMaker(t *testing.T) {
	w := cellarOf(t)
	w.must("make new --variety tomme --wheels 4 --treatment pasteurised --milk cow --on 2026-08-02")
	w.sends(t, "260802A-01")
	rows := sheetOf(t, w, "260802A")
	if len(rows) != 2 {
		t.Fatalf("%d rows", len(rows))
	}
	holds(t, rows[0], "transformation", produced, "260802A", ash, ash, "2026-08-02", "Tomme, natural rind", "4", "wheels",
		"make sheet", "make sheet 260802A")
	holds(t, rows[0], "transformation", used, "", "", "", "") // milk isn't on the list
	holds(t, rows[1], "shipping", shipping, "260802A", "1880", "g", "Tomme, natural rind, whole, wheel 260802A-01",
		"Shop", "555-0123", "Market 7", ash, "2026-11-20", ash, "delivery note", "DN-1")
}

// An affineur who sells under the maker's code never made the cheese: the sheet has no
// transformation.
func TestTheTraceabilitySheetOfAnAffineurWhoKeepsTheMakersCode(t *testing.T) {
	w := cellarOf(t)
	if r := w.run(bought...); r.Code != 0 {
		t.Fatal(r.Err)
	}
	w.sends(t, "260801A-01")
	rows := sheetOf(t, w, "260801A")
	if len(rows) != 2 {
		t.Fatalf("%d rows: %v", len(rows), rows)
	}
	holds(t, rows[0], "receiving", receiving, "FB 12/26", "3", "wheels", "Tomme, natural rind", "Wold Cheese Trade",
		"555-0177", "Wold Road 1", ash, "2026-11-10", fern, "invoice", "5531")
	holds(t, rows[1], "shipping", shipping, "FB 12/26", "1880", "g", "Tomme, natural rind, whole, wheel 260801A-01",
		"Shop", "555-0123", "Market 7", ash, "2026-11-20", fern, "delivery note", "DN-1")

	// No code came with it: the code given on receipt is the book's own (1.1345(b)).
	r := w.run("make", "receive", "--from", "Fern Bank Dairy", "--variety", "gouda", "--treatment", "pasteurised",
		"--wheels", "1", "--on", "2026-11-11")
	if r.Code != 0 {
		t.Fatal(r.Err)
	}
	rows = sheetOf(t, w, "261111A")
	holds(t, rows[0], "receiving", receiving, "261111A", "1", "wheel", "Gouda, plastic-coated", "Fern Bank Dairy",
		"555-0199", "Fern Lane 4", ash, "2026-11-11", ash, trade.Missing, trade.Missing)
}

// One who transforms gives a code of their own, with the maker's as input.
func TestTheTraceabilitySheetOfAnAffineurWhoTransforms(t *testing.T) {
	w := cellarOf(t)
	w.must("book site --lot-code own")
	if r := w.run(bought...); r.Code != 0 {
		t.Fatal(r.Err)
	}
	rows := sheetOf(t, w, "260801A")
	if len(rows) != 1 { // nothing was completed yet
		t.Fatalf("%d rows: %v", len(rows), rows)
	}
	w.must("wheel cut 260801A-02 --removed 100g --on 2026-11-15")
	w.sends(t, "260801A-01")
	rows = sheetOf(t, w, "260801A")
	if len(rows) != 4 {
		t.Fatalf("%d rows: %v", len(rows), rows)
	}
	holds(t, rows[0], "receiving", receiving, "FB 12/26", "3", "wheels", "Tomme, natural rind", "Wold Cheese Trade",
		"555-0177", "Wold Road 1", ash, "2026-11-10", fern, "invoice", "5531")
	// One was cut, one left as it was, and the third isn't done yet.
	for i, on := range []string{"2026-11-15", "2026-11-20"} {
		holds(t, rows[1+i], "transformation", produced, "260801A", ash, ash, on, "Tomme, natural rind", "1", "wheel",
			"make sheet", "make sheet 260801A")
		holds(t, rows[1+i], "transformation", used, "FB 12/26", "Tomme, natural rind", "1", "wheel")
	}
	holds(t, rows[3], "shipping", shipping, "260801A", "1880", "g", "Tomme, natural rind, whole, wheel 260801A-01",
		"Shop", "555-0123", "Market 7", ash, "2026-11-20", ash, "delivery note", "DN-1")

	// Back to the maker's code: what came before keeps its own.
	w.must("book site --lot-code maker")
	if rows := sheetOf(t, w, "260801A"); len(rows) != 4 || rows[3]["lot_code"] != "260801A" {
		t.Errorf("%v", rows)
	}
	var d struct {
		Lots []struct {
			Transformed bool
			Received    []struct {
				Supplier string
				MakerLot string `json:"maker_lot"`
			}
			Air []struct{ Elsewhere bool }
		}
		Deliveries []struct {
			Code string `json:"lot_code"`
		}
	}
	w.doc(&d, "trace 260801A")
	if l := d.Lots[0]; !l.Transformed || l.Received[0].MakerLot != "FB 12/26" || d.Deliveries[0].Code != "260801A" {
		t.Errorf("as JSON: %+v", d)
	}
	w.sound()
}

// What the book doesn't know is said, and not left blank.
func TestTheTraceabilitySheetSaysWhatIsMissing(t *testing.T) {
	w := newWorld(t)
	w.must("book new --quiet")
	w.must("book site --lot-code own")
	if r := w.run("make", "receive", "--from", "Fern Bank Dairy", "--variety", "gouda", "--treatment", "pasteurised",
		"--wheels", "2", "--on", "2026-11-11"); r.Code != 0 {
		t.Fatal(r.Err)
	}
	w.must("wheel send 261111A-01 --to Shop --on 2026-11-20")
	rows := sheetOf(t, w, "261111A")
	if len(rows) != 3 {
		t.Fatalf("%d rows: %v", len(rows), rows)
	}
	const no = trade.Missing
	holds(t, rows[0], "receiving", receiving, "261111A", "2", "wheels", "Gouda, plastic-coated", "Fern Bank Dairy", no, no,
		no, "2026-11-11", no, no, no)
	holds(t, rows[1], "transformation", produced, "261111A", no, no, "2026-11-20", "Gouda, plastic-coated", "1", "wheel",
		"make sheet", "make sheet 261111A")
	holds(t, rows[1], "transformation", used, "261111A", "Gouda, plastic-coated", "1", "wheel")
	holds(t, rows[2], "shipping", shipping, "261111A", "1", "wheel", "Gouda, plastic-coated, whole, wheel 261111A-01",
		"Shop", no, no, no, "2026-11-20", no, no, no)
}
