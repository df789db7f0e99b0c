package intake

import (
	"io"
	"strings"

	"rindkeep/cave/reason"
)

// LabRow is one row of a table of a laboratory's results. What the table does not say
// is "". When is the text of a date.
type LabRow struct {
	Spot
	Lot    string
	Sample string
	Test   string
	Found  string // with what stands in the columns of its unit and of the grams examined
	When   string
	Report string
	Note   string
}

// LabFields are the fields a table of results may have.
var LabFields = []string{"sample", "lot", "test", "result", "unit", "examined", "date", "report", "note"}

var labWords = vocabulary(map[string]string{
	"note": common["note"],
	"sample": "sample sample_no sample_number sample_id sample_code specimen echantillon no_echantillon probe proben_nr " +
		"probennummer campione n_campione muestra n_muestra",
	"lot": "lot lot_code lot_no lot_number batch batch_no batch_number batch_code charge los lotto lote no_lot",
	"test": "test analysis parameter analyte determination organism analyse parametre untersuchung prufung keim analisi " +
		"parametro analisis determinazione determinacion",
	"result": "result value found finding outcome resultat ergebnis befund wert messwert valeur risultato valore " +
		"resultado valor",
	"unit":     "unit units unite einheit unita unidad",
	"examined": "examined portion sample_size test_portion in_g grams_examined einwaage prise_d_essai",
	"date": "date reported result_date date_of_result completed datum berichtsdatum date_du_rapport data fecha " +
		"data_referto",
	"report": "report report_no report_number certificate rapport bericht berichtsnummer prufbericht rapporto referto " +
		"informe certificado certificat",
})

// Results reads a table of results with a heading line. Columns are found by what
// their headings mean, or as how says; sample and result must be there. Every bad row is listed; err
// is why the table can't be read at all.
func Results(in io.Reader, how How) (rows []LabRow, bad []Problem, err error) {
	t, err := open(in)
	if err != nil {
		return nil, nil, err
	}
	if _, _, err = t.headings(OfResults, &how); err != nil {
		return nil, nil, err
	}
	for _, f := range OfResults.need {
		if !t.has(f) {
			return nil, nil, t.top(NoColumn{Field: f, Has: t.head})
		}
	}
	for r, err := range t.all() {
		if err != nil {
			return nil, nil, err
		}
		x := r.result()
		if len(r.bad) == 0 {
			rows = append(rows, x)
		}
		if bad = append(bad, r.bad...); len(bad) >= maxProblems {
			break
		}
	}
	if len(rows)+len(bad) == 0 {
		return nil, nil, Problem{Why: NoRows}
	}
	return rows, bad, nil
}

func (r *row) result() LabRow {
	x := LabRow{
		Spot: r.spot(LabFields), Lot: r.text("lot"), Sample: r.text("sample"), Test: r.text("test"),
		Found: strings.TrimSpace(r.text("result") + " " + r.text("unit")), When: r.text("date"),
		Report: r.text("report"), Note: r.text("note"),
	}
	if g := r.text("examined"); g != "" && !strings.Contains(x.Found, " in ") {
		x.Found += " in " + g
	}
	x.When = strings.TrimSuffix(x.When, " 00:00") // a date in a cell of a sheet that shows its time too
	switch {
	case len(r.bad) > 0:
	case x.Sample == "":
		r.fail("sample", reason.Missing{What: "sample"})
	case r.text("result") == "":
		r.fail("result", reason.Missing{What: "finding"})
	}
	r.surplus()
	return x
}
