package ical

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave/day"
)

var stamp = time.Date(2026, time.November, 25, 8, 0, 0, 0, time.UTC)

// tricky are events with all that a calendar file has trouble with.
var tricky = []Event{
	{UID: "one", First: day.Of(2026, time.November, 25), Last: day.Of(2026, time.November, 25),
		Summary: "drying: turn 4, weigh 4 (12 min)", Description: "turn 4: 261120A-01 to -04\nweigh 4: 261120A-01 to -04",
		Location: "drying"},
	{UID: "two", First: day.Of(2026, time.December, 31), Last: day.Of(2027, time.January, 2), Summary: `a; b, c\ d: "e"`,
		Description: "back\\slash, then\na line", Busy: true},
	{UID: "three", First: day.Of(2028, time.February, 29), Last: day.Of(2028, time.February, 29),
		Summary: strings.Repeat("käse-", 40), Description: strings.Repeat("チーズ", 60) + " " + strings.Repeat("🧀", 50)},
	{UID: "four", First: day.Of(2026, time.March, 29), Last: day.Of(2026, time.March, 29), Summary: strings.Repeat("word ",
		60) + "end", Description: "ends in\n\ntwo breaks; " + strings.Repeat(" ", 90) + "and blanks"},
}

// read is an event as a parser of others gives it back.
type read struct {
	UID, Summary, Description, Location, Transp string
	Start, End, Stamp                           string
}

// wanted is what a parser must give back.
func wanted(es []Event) []read {
	var out []read
	for _, e := range es {
		r := read{e.UID, e.Summary, e.Description, e.Location, "TRANSPARENT", e.First.String(), (e.Last + 1).String(),
			"2026-11-25T08:00:00Z"}
		if e.Busy {
			r.Transp = "OPAQUE"
		}
		out = append(out, r)
	}
	return out
}

func write(t *testing.T, es []Event) []byte {
	t.Helper()
	b, err := Write("rindkeep", stamp, es)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// missing skips the test, or fails it where nothing may be skipped.
func missing(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
		t.Fatal(why)
	}
	t.Skip(why + ": not compared")
}

// parse has a program of others read the file and print its events as JSON.
func parse(t *testing.T, file []byte, name string, args ...string) []read {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Stdin = bytes.NewReader(file)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, errs.String())
	}
	var got []read
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatalf("%s printed no JSON: %v\n%s", name, err, out)
	}
	return got
}

// python3-icalendar of Debian.
const byPython = `
import sys, json, datetime
from icalendar import Calendar
c = Calendar.from_ical(sys.stdin.buffer.read())
assert c['VERSION'] == '2.0' and c['PRODID'] and c['METHOD'] == 'PUBLISH'
out = []
for e in c.walk('VEVENT'):
    for k in ('DTSTART', 'DTEND'):
        assert type(e[k].dt) is datetime.date, (k, e[k].dt)
        assert e[k].params['VALUE'] == 'DATE'
    out.append(dict(UID=str(e['UID']), Summary=str(e['SUMMARY']), Description=str(e.get('DESCRIPTION', '')),
        Location=str(e.get('LOCATION', '')), Transp=str(e['TRANSP']),
        Start=e['DTSTART'].dt.isoformat(), End=e['DTEND'].dt.isoformat(),
        Stamp=e['DTSTAMP'].dt.strftime('%Y-%m-%dT%H:%M:%SZ')))
print(json.dumps(out))
`

// ical.js of npm.
const byNode = `
import { readFileSync } from 'node:fs';
const ICAL = (await import(process.argv[1])).default;
const c = new ICAL.Component(ICAL.parse(readFileSync(0, 'utf8')));
console.log(JSON.stringify(c.getAllSubcomponents('vevent').map(v => {
  const e = new ICAL.Event(v);
  if (!e.startDate.isDate || !e.endDate.isDate) throw new Error('not a whole day');
  return { UID: e.uid, Summary: e.summary, Description: e.description || '', Location: e.location || '',
    Transp: v.getFirstPropertyValue('transp'),
    Start: e.startDate.toString(), End: e.endDate.toString(), Stamp: v.getFirstPropertyValue('dtstamp').toString() };
})));
`

func TestAnotherParserInPythonReadsBackWhatWasWritten(t *testing.T) {
	py := "/usr/bin/python3"
	if exec.Command(py, "-c", "import icalendar").Run() != nil {
		missing(t, "python3 with icalendar (python3-icalendar) is not installed")
	}
	if d := cmp.Diff(wanted(tricky), parse(t, write(t, tricky), py, "-c", byPython)); d != "" {
		t.Errorf("icalendar (-written +read):\n%s", d)
	}
}

func TestAnotherParserInJavaScriptReadsBackWhatWasWritten(t *testing.T) {
	if _, err := exec.LookPath("node"); err != nil {
		missing(t, "node is not installed")
	}
	dir, err := filepath.Abs(os.Getenv("RINDKEEP_NODE_MODULES"))
	if err != nil || os.Getenv("RINDKEEP_NODE_MODULES") == "" {
		missing(t, "RINDKEEP_NODE_MODULES names no folder with ical.js")
	}
	lib := filepath.Join(dir, "ical.js", "dist", "ical.js")
	if _, err := os.Stat(lib); err != nil {
		missing(t, "there is no ical.js in RINDKEEP_NODE_MODULES")
	}
	got := parse(t, write(t, tricky), "node", "--input-type=module", "-e", byNode, lib)
	if d := cmp.Diff(wanted(tricky), got); d != "" {
		t.Errorf("ical.js (-written +read):\n%s", d)
	}
}

// lawful says what a file breaks of RFC 5545, 3.1: lines end in CRLF, and none
// is longer than 75 octets.
func lawful(b []byte) error {
	lines := strings.Split(string(b), "\r\n")
	if lines[len(lines)-1] != "" {
		return fmt.Errorf("the last line does not end in CRLF")
	}
	for i, l := range lines {
		switch {
		case strings.ContainsAny(l, "\r\n"):
			return fmt.Errorf("line %d holds a bare line break: %q", i+1, l)
		case len(l) > 75:
			return fmt.Errorf("line %d has %d octets: %q", i+1, len(l), l)
		case strings.ToValidUTF8(l, "") != l:
			return fmt.Errorf("line %d has a letter torn apart: %q", i+1, l)
		}
	}
	return nil
}

func TestLinesEndInCRLFAndAreFoldedAt75OctetsWhateverTheWords(t *testing.T) {
	b := write(t, tricky)
	if err := lawful(b); err != nil {
		t.Error(err)
	}
	if !strings.Contains(string(b), "\r\n ") {
		t.Error("no line was folded: does this test still look at long ones?")
	}
	rapid.Check(t, func(t *rapid.T) {
		e := Event{UID: "u", First: 20000, Last: 20000, Summary: rapid.String().Draw(t, "summary"),
			Description: rapid.StringN(0, 400, -1).Draw(t, "description")}
		b, err := Write("x", stamp, []Event{e})
		if err != nil {
			t.Fatal(err)
		}
		if err := lawful(b); err != nil {
			t.Fatal(err)
		}
		// Unfolded, the text is the one given, escaped as 3.3.11 has it.
		whole := strings.ReplaceAll(string(b), "\r\n ", "")
		want := "\r\nSUMMARY:" +
			strings.NewReplacer("\\", "\\\\", "\n", "\\n", ";", "\\;", ",", "\\,").Replace(clean(e.Summary)) + "\r\n"
		if !strings.Contains(whole, want) {
			t.Fatalf("no %q in\n%q", want, whole)
		}
	})
}

func TestAFileWithoutEventsIsACalendarAllTheSame(t *testing.T) {
	want := "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//rindkeep//ahead//EN\r\nMETHOD:PUBLISH\r\nX-WR-CALNAME:Hollow " +
		"Ash\\, cave\r\nEND:VCALENDAR\r\n"
	got, err := Write("Hollow Ash, cave", stamp, nil)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, string(got)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestTheSameEventsGiveTheSameBytes(t *testing.T) {
	if d := cmp.Diff(string(write(t, tricky)), string(write(t, tricky))); d != "" {
		t.Errorf("(-first +second):\n%s", d)
	}
}
