package cli

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// tableFile is a table to write: CSV to a file or, named -, to standard output;
// to a file that ends in .xlsx a workbook's sheet of that name.
type tableFile struct {
	path  string
	sheet string
	head  []string
	rows  [][]any
}

// writeTable writes a table in the form that its file's name ends in.
func (a *app) writeTable(f tableFile) error {
	if isWorkbookName(f.path) {
		return a.writeSheet(f)
	}
	return a.writeCSV(f)
}

// writeCSV writes a table. A file that is there and is not such a table is left
// alone.
func (a *app) writeCSV(f tableFile) error {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(f.head)
	for _, r := range f.rows {
		safe := make([]string, len(r))
		for i, c := range r {
			safe[i] = inert(c)
		}
		_ = w.Write(safe)
	}
	w.Flush()
	if f.path == "-" {
		a.print("%s", b.String())
		return nil
	}
	if err := mayReplace(f.path, strings.Join(f.head, ",")); err != nil {
		return err
	}
	if err := writeFile(f.path, b.Bytes()); err != nil {
		return err
	}
	a.note("%s written: %d rows", safeWord(f.path), len(f.rows))
	return nil
}

// inert is a cell's text that no spreadsheet takes for a formula; a telephone
// number keeps its plus.
func inert(v any) string {
	if v == nil {
		return ""
	}
	if x, ok := v.(float64); ok {
		return decimal(x)
	}
	s := fmt.Sprint(v)
	if n, ok := strings.CutPrefix(s, "+"); ok && strings.Trim(n, "0123456789 ()/.-") == "" {
		return s
	}
	return cell(s)
}

// recallHead names the columns of the recall list.
var recallHead = []string{"wheel", "lot", "customer", "contact", "address", "date", "weight_g", "whole_or_piece", "document"}

// recallRows are the deliveries, in the order they went.
func (t *traced) recallRows() [][]any {
	var rows [][]any
	for _, d := range t.deliveries {
		c := t.customer(d.customer)
		rows = append(rows, []any{d.wheel, d.lot, d.customer, oneLine(c.Contact), oneLine(c.Address), d.on, gramsCell(d.entry.Weight), d.part(), d.document})
	}
	return rows
}

func gramsCell(g quantity.Grams) any { return figure(float64(g)) }

// fsmaHead names the columns of the sheet of key data that FSMA 204 wants
// at shipping and transformation (FDA, food traceability rule), in plain words. One
// sheet holds both, so that it can be sorted.
var fsmaHead = []string{
	"event", "date", "lot_code", "quantity", "unit", "description", "made_at_or_shipped_from", "recipient", "recipient_contact", "recipient_address",
	"lot_code_given_by", "reference_document", "made_from_lot_codes",
}

// fsmaRows are a row for each make with wheels concerned and each delivery.
func (t *traced) fsmaRows(site string) [][]any {
	var rows [][]any
	for _, l := range t.lots {
		if l.reach == reachFrom {
			continue
		}
		n, unit := l.made()
		rows = append(rows, []any{
			"transformation", l.make.Date, l.make.Lot, n, unit, l.title, site, "", "", "", site, "make sheet " + l.make.Lot, strings.Join(l.inputs(), "; "),
		})
	}
	for _, d := range t.deliveries {
		c := t.customer(d.customer)
		n, unit := any(1), "wheel"
		if d.entry.Kind == wheel.SentPart {
			unit = "piece"
		}
		if d.entry.Weight > 0 {
			n, unit = gramsCell(d.entry.Weight), "g"
		}
		rows = append(rows, []any{
			"shipping", d.on, d.lot, n, unit, fmt.Sprintf("%s, %s, wheel %s", d.title, d.part(), d.wheel), site, d.customer, oneLine(c.Contact), oneLine(c.Address), site, d.document, "",
		})
	}
	slices.SortStableFunc(rows, func(a, b []any) int { return cmp.Compare(a[1].(day.Date), b[1].(day.Date)) })
	return rows
}

// made is how much the make gave: its wheels, whatever became of them.
func (l *tracedLot) made() (n int, unit string) {
	unit = "wheels"
	if l.of == 1 {
		unit = "wheel"
	}
	return l.of, unit
}

// inputs are the lot codes of what went into the make, each once.
func (l *tracedLot) inputs() []string {
	var out []string
	for _, x := range l.lines {
		what, code := "", x.Log.Lot
		switch x.Log.What {
		case wheel.LogMilk:
			what = "milk"
		case wheel.LogIngredient:
			what = x.Log.Name
		case wheel.LogSalt:
			what = "salt"
		case wheel.LogFrom:
			what, code = "curd", x.Log.FromLot
		}
		if what == "" || code == "" {
			continue
		}
		if s := what + " " + code; !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}
