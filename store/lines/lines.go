// Package lines writes the lines of an export and reads them strictly. It knows how an entry
// looks as one; other records are whatever their owner makes of them.
//
// An export is text, one JSON object a line (JSON Lines), UTF-8, and holds every fact of the
// book and nothing derived:
//
//	{"schema":"rindkeep/export/1"}                      always the first line
//	{"record":"book","id":…,"zone":"Europe/Dublin",…}   always the second
//	{"record":"room",…}        rooms, with racks and tests of the hygrometer
//	{"record":"plan","name":…,"toml":…}                 the user's own rind plans
//	{"record":"variety","name":…,"toml":…}              and varieties, as TOML text
//	{"record":"law","name":…,"toml":…}                  rules of food laws of their own
//	{"record":"limit","name":…,"toml":…}                limits of laboratory tests of their own
//	{"record":"follow","countries":"CA US",…}           whose law the book followed, from when
//	{"record":"releasers","names":["Nora"],…}           who might lift safety holds, from when
//	{"record":"site","name":"Hollow Ash",…}              where it is kept, from when
//	{"record":"lift","of":"rule us-cheddar",…}           who let safety holds end by a change, and why
//	{"record":"mapping","name":…,"of":"wheels",…}       how tables of one origin are read
//	{"record":"customer","name":…,"contact":…,"address":…}
//	{"record":"make",…}
//	{"record":"wheel",…}       wheels as they came; what changed is in entries
//	{"record":"photo","jpeg":…}  pictures that notes name, in base 64
//	{"record":"entry","kind":"weighed","subject":…,"at":…,"weight_g":1942,…}
//	{"record":"airsource","number":1,"room":…,"by":…}  who entered readings, as a table or one by one
//	{"record":"air","room":"cellar","at":…,"temp_c":12.1,"rh_fraction":0.85}
//	{"record":"link","number":1,"hash":…,"link":…}      the chain over all of these
//	{"record":"end","lines":10}                         lines before this one
//
// Every line but the first begins with its record. Records come in this order and within it
// by key, so that the same book gives the same bytes. Instants are UTC, to the millisecond; dates are days in the
// book's zone. A field's unit ends its name: g, c (degrees Celsius), m, litres,
// and fraction for what people read as percent. A field left out is not known
// or says no. Answers of a hand check are yes and no; the detail of a tasting or
// of a make's log is a JSON object of its own, as text. The links are as the
// book keeps them: an import that fits them has the same history, with the same
// head; where they are left out, or fit no longer, a new chain begins, and says
// so.
package lines

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
)

// Schema names the form of an export.
const Schema = "rindkeep/export/1"

type headLine struct {
	Schema string `json:"schema"`
}

type endLine struct {
	Lines int `json:"lines"`
}

// Writer writes lines and counts them.
type Writer struct {
	w     *bufio.Writer
	lines int
}

// NewWriter begins an export with its first line.
func NewWriter(to io.Writer) (*Writer, error) {
	x := &Writer{w: bufio.NewWriterSize(to, 256<<10)}
	return x, x.Put("", headLine{Schema})
}

// End writes the last line, and all that waits.
func (x *Writer) End() error {
	if err := x.Put("end", endLine{x.lines}); err != nil {
		return err
	}
	return x.w.Flush()
}

// Put writes one line; record goes before the fields of v, which is written as
// a JSON object.
func (x *Writer) Put(record string, v any) error {
	j, err := json.Marshal(v)
	if err != nil {
		return err
	}
	x.lines++
	if record != "" {
		if _, err := fmt.Fprintf(x.w, `{"record":%q`, record); err != nil {
			return err
		}
		if j = j[1:]; len(j) > 1 {
			x.w.WriteByte(',')
		}
	}
	x.w.Write(j)
	return x.w.WriteByte('\n')
}
