package cli

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

type logDocOf struct {
	Schema  string
	Matched int
	Entries []struct {
		Of, Kind, What, By, At, Written string
		Struck                          bool
	}
}

// short writes the entries one a line.
func (d logDocOf) short() (out []string) {
	for _, e := range d.Entries {
		s := fmt.Sprintf("%s %s %s %s", e.At[5:16], e.Of, e.What, e.By)
		if e.Struck {
			s += " struck"
		}
		out = append(out, s)
	}
	return out
}

// logWorld has two people, a strike, a gone wheel, a note on a lot and an entry
// written a day late.
func logWorld(t testing.TB) *world {
	w := newWorld(t).kept()
	w.must("did turn 261110A-01 261110A-02 --at 2026-11-20T08:00 --by Bram --quiet")
	w.must("skip turn 261110A-03 --why wet --at 2026-11-20T08:05 --by Bram --quiet")
	w.must("weigh 261110A-04 1900 --sure --at 2026-11-21T09:00 --quiet")
	w.must("strike last --why mis-keyed --quiet")
	w.must("make note 261110A slow --at 2026-11-22T10:00 --quiet")
	w.must("wheel send 261110A-02 --to Shop --weight 2kg --at 2026-11-23T10:00 --by Bram --quiet")
	return w
}

func TestTheLogAnswersWhoDidWhatWhen(t *testing.T) {
	w := logWorld(t)
	turned := []string{"11-20T08:00 261110A-01 turned Bram", "11-20T08:00 261110A-02 turned Bram"}
	skipped := "11-20T08:05 261110A-03 skipped turn Bram"
	mistake := "11-21T09:00 261110A-04 weighed Nora struck"
	noted := "11-22T10:00 lot 261110A noted Nora"
	sent := "11-23T10:00 261110A-02 sent Bram"
	strike := "11-25T08:00 261110A-04 struck Nora"
	since := append(append([]string{}, turned...), skipped, mistake, noted, sent, strike)
	for _, c := range []struct {
		name, line string
		want       []string
	}{
		{"from a date on", "log --from 2026-11-20", since},
		{"one day", "log --on 2026-11-20", since[:3]},
		{"up to and with a date", "log --from 2026-11-20 --to 2026-11-21", since[:4]},
		{"one person, in any case", "log --person bram", []string{turned[0], turned[1], skipped, sent}},
		{"nobody of that name", "log --person Bra", nil},
		{"a job done or passed over", "log --job turned", since[:3]},
		{"a job that has a kind of its own", "log --job weigh --from 2026-11-18", []string{mistake}},
		{"kinds", "log --kind sent,noted", []string{noted, sent}},
		{"what was withdrawn", "log --struck", []string{mistake}},
		{"a lot, its own notes and its gone wheels with it", "log 261110a --from 2026-11-22", []string{noted, sent, strike}},
		{"a gone wheel", "log 261110A-02 --from 2026-11-20", []string{turned[1], sent}},
		{"tags that begin alike, gone ones too", "log 261110A-0* --kind sent", []string{sent}},
		{"what lies at a place", "log drying/A/1 --kind sent", nil},
		{"everything by its word", "log all --kind sent", []string{sent}},
		{"the newest", "log --most 2", []string{sent, strike}},
	} {
		var d logDocOf
		w.doc(&d, c.line)
		same(t, c.name+": rindkeep "+c.line, d.short(), c.want)
		if d.Schema != "rindkeep/log/1" || d.Entries == nil || !strings.Contains(c.line, "--most") &&
			d.Matched != len(c.want) {
			t.Errorf("%s: %s, %d matched, entries %v", c.name, d.Schema, d.Matched, d.Entries)
		}
	}
}

func TestTheLogForPeopleSaysAllOfIt(t *testing.T) {
	w := logWorld(t)
	got := w.must("log --from 2026-11-20 --to 2026-11-23")
	var d struct{ Entries []struct{ Mark string } }
	w.doc(&d, "log --from 2026-11-20 --to 2026-11-23")
	var marks []any
	for _, e := range d.Entries {
		marks = append(marks, e.Mark)
	}
	same(t, "the log", got, fmt.Sprintf(`Friday 20 November 2026
  08:00  261110A-01  turned             Bram  %s  written 25 Nov 2026
  08:00  261110A-02  turned             Bram  %s  written 25 Nov 2026
  08:05  261110A-03  skipped turn; wet  Bram  %s  written 25 Nov 2026

Saturday 21 November 2026
  09:00  261110A-04  STRUCK weighed 1900 g  Nora  %s  written 25 Nov 2026

Sunday 22 November 2026
  10:00  lot 261110A  noted; slow  Nora  %s  written 25 Nov 2026

Monday 23 November 2026
  10:00  261110A-02  sent to Shop, 2000 g  Bram  %s  written 25 Nov 2026

6 entries
`, marks...))
	same(t, "nothing to tell", w.must("log --kind lost"), "no such entries\n")
	same(t, "nothing to tell by day", w.must("log --kind lost --by-day"), "no such entries\n")
	if out := w.must("log --most 3"); !strings.HasSuffix(out, "\nthe newest 3 of 27; --most 0 for all\n") {
		t.Errorf("a part of the log does not say so: %q", out)
	}
	same(t, "the log by day", w.must("log --by-day --from 2026-11-20"), `day         person  entries  from   to     did
2026-11-20  Bram          3  08:00  08:05  turned 2, skipped turn 1, written on
                                           a later day 3
2026-11-21  Nora          1  09:00  09:00  cancelled since 1, written on a later
                                           day 1
2026-11-22  Nora          1  10:00  10:00  noted 1, written on a later day 1
2026-11-23  Bram          1  10:00  10:00  sent 1, written on a later day 1
2026-11-25  Nora          1  08:00  08:00  struck 1
`)
}

func TestTheLogsDocumentsKeepTheirFields(t *testing.T) {
	w := jsonWorld(t)
	for _, c := range []struct{ name, line string }{{"log", "log"}, {"log-days", "log --by-day"}} {
		var v map[string]any
		w.doc(&v, c.line)
		same(t, "schema of rindkeep "+c.line, v["schema"], any("rindkeep/"+c.name+"/1"))
		golden(t, filepath.Join("json", c.name+".txt"), strings.Join(shapeOf(v), "\n")+"\n")
	}
	w = newWorld(t)
	w.must("book new --quiet")
	same(t, "the log of an empty book", w.must("log --json"),
		"{\n  \"schema\": \"rindkeep/log/1\",\n  \"matched\": 0,\n  \"entries\": [],\n  \"air\": []\n}\n")
	same(t, "the days of an empty book", w.must("log --by-day --json"),
		"{\n  \"schema\": \"rindkeep/log-days/1\",\n  \"days\": []\n}\n")
}

func TestTheLogRefusesWhatItCannotUnderstand(t *testing.T) {
	w := logWorld(t)
	for _, c := range []struct {
		line    string
		code    int
		pattern string
	}{
		{"log --from someday", exitUsage, `^rindkeep: "someday" is not a date`},
		{"log --from 2026-11-20 --to 2026-11-19", exitUsage, `--to 2026-11-19 is before --from 2026-11-20`},
		{"log --job juggle", exitUsage, `juggle`},
		{"log --kind juggled", exitUsage, `no kind of entry "juggled"; there are weighed, did`},
		{"log --most -1", exitUsage, `--most -1`},
		{"log --by-day --most 3", exitUsage, `leave --most out`},
		{"log --at 08:00", exitUsage, `whole days`},
		{"log --on today --from today", exitUsage, `not both`},
		{"log 261110A-09", exitNotFound, `no wheel tagged "261110A-09"\nhint: did you mean`},
		{"log attic", exitNotFound, `attic`},
	} {
		w.want(c.code, c.pattern, strings.Fields(c.line)...)
	}
	for _, h := range hostile[:15] {
		w.run("log", h.word).plain(t, h.what+" in the log")
		w.run("log", "--person", h.word).plain(t, h.what+" as a person of the log")
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	w.ctx = gone
	w.want(exitInterrupted, `^rindkeep: interrupted`, "log")
}

func TestADayOfTheWeekIsTheLastOneWhereSomethingIsRecordedAndTheNextWhereOneLooksAhead(t *testing.T) {
	w := newWorld(t).kept()
	w.run("did", "turn", "261110A-01", "--at", "tue 8:00", "--by", "Bram", "--quiet")
	w.must("did brush 261110A-02 --on saturday --by Bram --quiet")
	w.want(exitDone, "", "wheel", "note", "261110A-03", "damp", "--at", "Wed 23:00", "--quiet") // today's is to come
	var d logDocOf
	w.doc(&d, "log --from thu --to tue")
	same(t, "what was recorded since Thursday", fmt.Sprint(d.short()),
		"[11-21T12:00 261110A-02 brushed Bram 11-24T08:00 261110A-01 turned Bram]")
	w.doc(&d, "log --on 2026-11-18")
	same(t, "what was recorded on the Wednesday before", fmt.Sprint(d.short()), "[11-18T23:00 261110A-03 noted Nora]")
	var ahead struct{ Date string }
	w.doc(&ahead, "today --on tue")
	same(t, "the list of Tuesday", ahead.Date, "2026-12-01")
	w.want(exitUsage, `write .*2026-11-25T08:30, 08:30,`, "did", "turn", "261110A-01", "--at", "8h30")
}
