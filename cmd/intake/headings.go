package intake

import (
	"cmp"
	"errors"
	"io"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
)

// How says of a table what its headings don't. The zero How takes what they say.
type How struct {
	Columns map[string]string // a field's heading, or its letter in a table without headings
	Unit    string            // of bare weights that neither heading nor row gives a unit: kg, g, lb, oz
}

// heldRow is a row that was read to see whether it has the headings.
type heldRow struct {
	line  int
	cells []string
}

// hold keeps the row read last, to be given again.
func (t *table) hold(cells []string) heldRow {
	line, _ := t.pos(0)
	return heldRow{line, slices.Clone(cells)}
}

// plain writes the letters of French, German, Italian and Spanish without their marks.
var plain = strings.NewReplacer("n°", "no ", "nº", "no ",
	"ä", "a", "à", "a", "á", "a", "â", "a", "ç", "c", "é", "e", "è", "e", "ê", "e", "ë", "e",
	"í", "i", "ì", "i", "î", "i", "ï", "i", "ñ", "n", "ö", "o", "ó", "o", "ò", "o", "ô", "o", "ß", "ss", "ü", "u",
	"ú", "u", "ù", "u", "û", "u", "º", "", "ª", "", "œ", "oe", "’", "'", "\u00a0", " ",
	"°", "")

// key normalises a column heading: lower case, without accents, spaces and punctuation to one
// underscore, the unit in brackets kept as a last part.
func key(heading string) string {
	var b strings.Builder
	gap := false
	for _, r := range plain.Replace(strings.ToLower(heading)) {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r > 0x7f {
			if gap && b.Len() > 0 {
				b.WriteByte('_')
			}
			gap = false
			b.WriteRune(r)
			continue
		}
		gap = true
	}
	return b.String()
}

// pattern is compiled when it's first asked for, as most commands read no table.
func pattern(s string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(s) })
}

// vocabulary is the field that a heading means, from lists of headings by field; it's made
// when it's first asked for.
func vocabulary(lists ...map[string]string) func() map[string]string {
	return sync.OnceValue(func() map[string]string { return meanings(lists) })
}

func meanings(lists []map[string]string) map[string]string {
	out := map[string]string{}
	each := func(add func(field, k string)) {
		for _, list := range lists {
			for _, field := range slices.Sorted(maps.Keys(list)) {
				for _, k := range strings.Fields(list[field]) {
					add(field, k)
				}
			}
		}
	}
	each(func(field, k string) { out[k] = field })
	each(func(field, k string) {
		if out[short(k)] == "" {
			out[short(k)] = field
		}
	})
	return out
}

// fillers are the words that a heading may leave out: "date d'arrivée" is "date arrivée".
var fillers = strings.Fields("of the on at de du des d la le les l a au en di del della dell dello al all alla il el " +
	"los las am bei vom von der c f € £ eur euro gbp usd chf")

// short is a heading's key without the fillers; as it is, where it has nothing else.
func short(key string) string {
	parts := slices.DeleteFunc(strings.Split(key, "_"), func(p string) bool { return slices.Contains(fillers, p) })
	return cmp.Or(strings.Join(parts, "_"), key)
}

// cheese is what a heading means that may be the wheel's or its kind's.
const cheese = "cheese"

// common are the headings that every table of weights may have, in English, French, German, Italian and Spanish, as
// key writes them.
var common = map[string]string{
	"tag": "tag wheel wheel_tag label wheel_no wheel_number wheel_id cheese_no cheese_number cheese_id no number piece " +
		"piece_no meule no_meule meule_no no_fromage numero numero_fromage etiquette laib laib_nr laibnr laibnummer " +
		"kase_nr kaese_nr kasenummer nr nummer etikett stuck_nr forma forma_n n_forma n_formaggio etichetta pezzo rueda " +
		"n_queso queso_n etiqueta pieza n_pieza",
	// The wheel, or what kind it is: whichever no other column says.
	cheese: "cheese cheeses fromage fromages kase kaese formaggio formaggi queso quesos",
	"weight": "weight wt mass gross gross_weight gross_wt current_weight weight_now wt_now last_weight kg lb oz g grams " +
		"poids masse poids_actuel gewicht gewicht_aktuell aktuelles_gewicht peso peso_attuale peso_actual " +
		"net netto net_weight nettogewicht poids_net peso_netto neto peso_neto brut brutto lordo bruto",
	"note": "note notes comment comments remark remarks remarque remarques commentaire bemerkung bemerkungen notiz " +
		"notizen nota osservazioni observaciones comentario notas",
}

// weightUnits are the units that a heading of a weight may end in, and how a weight writes them.
var weightUnits = map[string]string{
	"kg": "kg", "kgs": "kg", "kilo": "kg", "kilos": "kg", "kilogram": "kg", "kilograms": "kg", "kilogramm": "kg",
	"kilogrammes": "kg", "chilogrammi": "kg", "kilogramos": "kg", "g": "g", "gr": "g", "grams": "g", "gramm": "g",
	"grammes": "g", "grammi": "g", "gramos": "g", "lb": "lb", "lbs": "lb", "pounds": "lb", "oz": "oz", "ounces": "oz",
}

// meaning is the field a heading means, and the unit it names for a weight.
func meaning(words map[string]string, heading string) (field, unit string) {
	k := key(heading)
	i := strings.LastIndexByte(k, '_')
	if u := weightUnits[k[i+1:]]; u != "" {
		head := k[:max(i, 0)]
		if i < 0 {
			head = k
		}
		if f := cmp.Or(words[head], words[short(head)]); strings.HasSuffix(f, "weight") {
			return f, u
		}
		if strings.HasSuffix(words["kg"], "weight") && (head == "in" || head == k) {
			return words["kg"], u
		}
	}
	return cmp.Or(words[k], words[short(k)]), ""
}

// mostAbove is how many rows may be above the headings: a title, who made the table and when.
const mostAbove = 15

// headingRow finds the row with the headings: the first that has them all, or else, as they may lack one, the first
// row. The rows above it are left out.
func (t *table) headingRow(words, named map[string]string, need []string) ([]string, error) {
	var rows []heldRow
	for range mostAbove {
		cells, err := t.next()
		if err != nil && (!errors.Is(err, io.EOF) || len(rows) == 0) {
			if errors.Is(err, io.EOF) {
				err = Problem{Why: NoRows}
			}
			return nil, err
		}
		if err != nil {
			break
		}
		rows = append(rows, t.hold(cells))
		has := map[string]bool{}
		for _, h := range cells {
			field, _ := meaning(words, h)
			for f, n := range named {
				if strings.EqualFold(n, h) {
					field = f
				}
			}
			has[field] = true
		}
		has["tag"] = has["tag"] || has[cheese]
		if !slices.ContainsFunc(need, func(f string) bool { return !has[f] }) {
			return rows[len(rows)-1].cells, nil
		}
	}
	t.held = append(rows, t.held...)
	return t.next()
}

// headings finds the row of headings and the columns by what it says, or as how says. Where how gives the fields that
// the sort needs by their letters, there are no headings. It gives the headings that mean nothing.
func (t *table) headings(s Sort, how *How) (head, unused []string, err error) {
	var named map[string]string
	if how != nil {
		named, t.unit, t.mapped = how.Columns, how.Unit, true
	}
	if t.byLetters(named, s.need) {
		return nil, nil, nil
	}
	if head, err = t.headingRow(s.words(), named, s.need); err != nil {
		return nil, nil, err
	}
	head = slices.Clone(head)
	t.columns, t.width, t.head = map[string]column{}, len(head), said(head)
	of := s.cheeses(head, named)
	for i, h := range head {
		field, unit := s.field(h, named, of)
		if field == "" {
			if h != "" {
				unused = append(unused, show(h))
			}
			continue
		}
		if first, twice := t.columns[field]; twice {
			line, c := t.pos(i)
			why := TwoColumns{field, show(h), t.mapped, first.heading}
			return nil, nil, Problem{Line: line, Column: c, Sheet: t.rows != nil, Why: why}
		}
		t.columns[field] = column{i, show(h), unit}
	}
	for f, n := range named {
		if !t.has(f) {
			return nil, nil, t.top(NoColumn{f, show(n), t.head})
		}
	}
	return head, unused, nil
}

// field is what a column is, with the unit of a weight; "" where it isn't used. Columns may be named for fields, and
// one that says "cheese" is of the field given.
func (s Sort) field(heading string, named map[string]string, of string) (field, unit string) {
	field, unit = meaning(s.words(), heading)
	if field == cheese {
		field = of
	}
	if named[field] != "" {
		field = "" // another column was named for it
	}
	for f, n := range named {
		if strings.EqualFold(n, heading) {
			field = f
		}
	}
	if !strings.HasSuffix(field, "weight") {
		return field, ""
	}
	return field, cmp.Or(unit, weightUnits[key(heading)[strings.LastIndexByte(key(heading), '_')+1:]])
}

// cheeses is what a column "cheese" says: the wheel, where no other column does, else its kind, where the sort has
// one and no other column says it; else nothing.
func (s Sort) cheeses(head []string, named map[string]string) string {
	has := map[string]bool{}
	for f := range named {
		has[f] = true
	}
	for _, h := range head {
		f, _ := meaning(s.words(), h)
		has[f] = true
	}
	for _, f := range []string{"tag", "variety"} {
		if !has[f] && slices.Contains(s.Fields, f) {
			return f
		}
	}
	return ""
}

// said are the headings that say something.
func said(head []string) (out []string) {
	for _, h := range head {
		if h != "" {
			out = append(out, show(h))
		}
	}
	return out
}

// byLetters takes the columns of a table without headings by their letters, where those of all the needed fields are
// given so.
func (t *table) byLetters(named map[string]string, need []string) bool {
	columns := map[string]column{}
	for f, n := range named {
		if len(n) != 1 || n[0] < 'A' || n[0] > 'Z' {
			return false
		}
		columns[f] = column{index: int(n[0] - 'A'), heading: n}
	}
	for _, f := range need {
		if _, ok := columns[f]; !ok {
			return false
		}
	}
	t.columns, t.width = columns, 26
	return len(need) > 0
}
