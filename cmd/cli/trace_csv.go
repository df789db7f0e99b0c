package cli

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// csvFile is a table to write, to a file or, named -, to standard output.
type csvFile struct {
	path string
	head []string
	rows [][]string
}

// writeCSV writes a table. A file that is there and is not such a table is left
// alone.
func (a *app) writeCSV(f csvFile) error {
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

// inert is cell, but a telephone number keeps its plus.
func inert(s string) string {
	if n, ok := strings.CutPrefix(s, "+"); ok && strings.Trim(n, "0123456789 ()/.-") == "" {
		return s
	}
	return cell(s)
}

// recallHead names the columns of the recall list.
var recallHead = []string{"wheel", "lot", "customer", "contact", "address", "date", "weight_g", "whole_or_piece", "document"}

// recallRows are the deliveries, in the order they went.
func (t *traced) recallRows() [][]string {
	var rows [][]string
	for _, d := range t.deliveries {
		c := t.customer(d.customer)
		rows = append(rows, []string{d.wheel, d.lot, d.customer, oneLine(c.Contact), oneLine(c.Address), d.on.String(), gramsCell(d.entry.Weight), d.part(), d.document})
	}
	return rows
}

func gramsCell(g quantity.Grams) string {
	if g == 0 {
		return ""
	}
	return strconv.FormatFloat(rounded(float64(g), 10), 'f', -1, 64)
}

// fsmaHead names the columns of the sheet of key data that FSMA 204 wants
// at shipping and transformation (FDA, food traceability rule), in plain words. One
// sheet holds both, so that it can be sorted.
var fsmaHead = []string{
	"event", "date", "lot_code", "quantity", "unit", "description", "made_at_or_shipped_from", "recipient", "recipient_contact", "recipient_address",
	"lot_code_given_by", "reference_document", "made_from_lot_codes",
}

// fsmaRows are a row for each make with wheels concerned and each delivery.
func (t *traced) fsmaRows(site string) [][]string {
	var rows [][]string
	for _, l := range t.lots {
		if l.reach == reachFrom {
			continue
		}
		n, unit := l.made()
		rows = append(rows, []string{
			"transformation", l.make.Date.String(), l.make.Lot, n, unit, l.title, site, "", "", "", site, "make sheet " + l.make.Lot, strings.Join(l.inputs(), "; "),
		})
	}
	for _, d := range t.deliveries {
		c := t.customer(d.customer)
		n, unit := "1", "wheel"
		if d.entry.Kind == wheel.SentPart {
			unit = "piece"
		}
		if d.entry.Weight > 0 {
			n, unit = gramsCell(d.entry.Weight), "g"
		}
		rows = append(rows, []string{
			"shipping", d.on.String(), d.lot, n, unit, fmt.Sprintf("%s, %s, wheel %s", d.title, d.part(), d.wheel), site, d.customer, oneLine(c.Contact), oneLine(c.Address), site, d.document, "",
		})
	}
	slices.SortStableFunc(rows, func(a, b []string) int { return strings.Compare(a[1], b[1]) })
	return rows
}

// made is how much the make gave: its wheels, whatever became of them.
func (l *tracedLot) made() (n, unit string) {
	unit = "wheels"
	if l.of == 1 {
		unit = "wheel"
	}
	return strconv.Itoa(l.of), unit
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
