package makes

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/intake"
	"rindkeep/wheel"
	"rindkeep/wheel/limit"
)

// NewResult asks to enter what a laboratory found in a sample of a lot.
type NewResult struct {
	Lot    string // or the tag of one of its wheels; "": any with that sample
	Number string // the sample's; "": the only one that is awaited
	Test   string // "": the only one of the sample that is awaited
	Found  string // "not detected in 25 g", "<10 cfu/g"
	Report string
	Note   string
}

// Resulted is a result as it was entered, and what it means for the lot.
type Resulted struct {
	Schema string      `json:"schema"`
	Lot    string      `json:"lot"`
	Sample string      `json:"sample"`
	Test   string      `json:"test"`
	Result string      `json:"result"`
	Inside bool        `json:"inside"` // every limit; the test's hold is over
	Limits []TestLimit `json:"limits"`
	LimitsOf
	Open int  `json:"tests_open"` // of the lot
	Same bool `json:"no_change"`
}

// NoTestAwaited refuses a result that nobody awaits.
type NoTestAwaited struct {
	Lot    string `json:"lot"`
	Sample string `json:"sample"`
	Test   string `json:"test"`
}

// SeveralAwaited refuses a result that may be of several tests.
type SeveralAwaited struct {
	Tests string `json:"tests"` // "S1 Salmonella", separated by "; "
}

// ResultThere refuses a second result of a test.
type ResultThere struct {
	Sample string `json:"sample"`
	Test   string `json:"test"`
	Result string `json:"result"`
}

// StrikeResult is a remedy: cancel the result that's there.
type StrikeResult struct {
	Entry string `json:"entry"`
}

// InHowMuch refuses "not detected" without the grams that were examined.
const InHowMuch reason.Flat = "not-detected-in-how-much"

// BeforeSample refuses a result from before its sample.
const BeforeSample reason.Flat = "result-before-sample"

// The codes.

func (NoTestAwaited) Code() string  { return "no-test-awaited" }
func (SeveralAwaited) Code() string { return "several-tests-awaited" }
func (ResultThere) Code() string    { return "result-there-already" }
func (StrikeResult) Code() string   { return "strike-the-result" }

// EnterResult enters a result. One inside every limit ends the hold of its test; one
// that isn't, or that no limit judges, keeps it.
func EnterResult(ctx context.Context, a *app.App, c app.Caller, q NewResult) (d app.Did[Resulted], err error) {
	if strings.TrimSpace(q.Found) == "" {
		return d, app.Misuse("found", reason.Missing{What: "finding"})
	}
	if strings.TrimSpace(q.Lot+q.Number) == "" {
		return d, app.Misuse("lot", reason.Missing{What: "lot"})
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Resulted, error) {
		at, exact, err := s.Moment()
		if err != nil {
			return Resulted{}, err
		}
		return (&entering{Session: s}).one(q, at, exact)
	})
}

// entering enters results. lots are those that a sample's number is of, by the number
// in lower case, once somebody asks.
type entering struct {
	*app.Session
	lots map[string][]string
}

// of are the lots with a sample of that number.
func (s *entering) of(number string) ([]string, error) {
	if s.lots == nil {
		s.lots = map[string][]string{}
		all, err := tested(s.Session, nil)
		if err != nil {
			return nil, err
		}
		for _, t := range all {
			if k := strings.ToLower(t.Sample); !slices.Contains(s.lots[k], t.Lot) {
				s.lots[k] = append(s.lots[k], t.Lot)
			}
		}
	}
	return s.lots[strings.ToLower(number)], nil
}

// one enters one result. Where at isn't exact, only its day is known.
func (s *entering) one(q NewResult, at time.Time, exact bool) (Resulted, error) {
	d := Resulted{Schema: app.Schema("make-result")}
	f, err := wheel.ParseFinding(q.Found)
	if err != nil {
		return d, app.Misread("found", err)
	}
	if f.Seen == wheel.No && f.Grams == 0 {
		return d, app.Misuse("found", InHowMuch)
	}
	lot, t, err := s.awaited(q)
	if err != nil {
		return d, err
	}
	l, err := labOf(s.Session, lot)
	if err != nil {
		return d, err
	}
	if f.Seen == 0 && f.Unit == "" { // laboratories leave it out: it is the limit's
		for _, x := range limit.Select(l.limits, t.Test, l.countries, l.milk) {
			f.Unit = cmp.Or(f.Unit, x.Unit)
		}
	}
	r := wheel.LabResult{
		Sample: t.Entry.ID, Number: t.Number, Test: t.Test, Found: f.String(), Report: strings.TrimSpace(q.Report),
		Limits: l.judged(t.Test, f),
	}
	d.Lot, d.Sample, d.Test, d.Result = l.make.Lot, t.Number, t.Test, r.Found
	d.Inside, d.Limits, d.LimitsOf = r.Inside(), limitsOf(r.Limits), l.limitsOf()
	if t.Result != nil {
		if d.Same = strings.EqualFold(t.Result.Found, r.Found); !d.Same {
			return d, app.Refuse(ResultThere{t.Number, t.Test, t.Result.Found},
				StrikeResult{l.make.Lot + ":" + t.Came.Mark()}).Of(l.make.Lot)
		}
	} else if err := s.put(t, r, q.Note, at, exact); err != nil {
		return d, app.About(l.make.Lot, err)
	}
	all, err := tested(s.Session, []string{l.make.Lot})
	for _, t := range all {
		if t.Open {
			d.Open++
		}
	}
	return d, err
}

// put writes a result of a test. One that came on the day of its sample, nobody knows
// when, came after it.
func (s *entering) put(t wheel.LotTest, r wheel.LabResult, note string, at time.Time, exact bool) error {
	if taken := t.Entry.At; at.Before(taken) {
		if exact || day.At(at, s.Zone) != day.At(taken, s.Zone) {
			return app.Refuse(BeforeSample)
		}
		at = taken.Add(time.Millisecond)
	}
	e := wheel.Entry{Subject: t.Entry.Subject, Kind: wheel.Resulted, At: at, Note: note, Detail: r.Detail()}
	_, err := s.Write.Put(s.Entry(e))
	return err
}

// awaited finds the one test that a result is of; one that has its result is found
// where no other is.
func (s *entering) awaited(q NewResult) (lot string, t wheel.LotTest, err error) {
	q.Number = strings.TrimSpace(q.Number)
	lots := []string{q.Lot}
	if q.Lot == "" {
		if lots, err = s.of(q.Number); err != nil {
			return "", t, err
		}
	}
	var all []LabTest
	if len(lots) > 0 {
		if all, err = tested(s.Session, lots); err != nil {
			return "", t, err
		}
	}
	limits, err := s.Tx.Limits()
	if err != nil {
		return "", t, err
	}
	test, _ := limit.Known(limits, q.Test)
	all = slices.DeleteFunc(all, func(x LabTest) bool {
		return q.Number != "" && !strings.EqualFold(x.Sample, q.Number) ||
			q.Test != "" && !strings.EqualFold(x.Test, strings.TrimSpace(test))
	})
	open := slices.DeleteFunc(slices.Clone(all), func(x LabTest) bool { return x.Result != nil })
	if len(open) == 0 {
		open = all
	}
	switch len(open) {
	case 0:
		return "", t, app.Refuse(NoTestAwaited{q.Lot, q.Number, q.Test}).Of(strings.TrimSpace(q.Lot + q.Number))
	case 1:
		return open[0].Lot, open[0].Of, nil
	}
	names := app.Each(open[:min(len(open), 6)], func(x LabTest) string { return x.Sample + " " + x.Test })
	return "", t, app.Refuse(SeveralAwaited{strings.Join(names, "; ")}).Of(strings.TrimSpace(q.Lot + q.Number))
}

// Results asks to enter a table of results, all of it or nothing.
type Results struct {
	Rows []intake.LabRow
	Bad  []intake.Problem // rows that can't be read
	Try  bool             // only say what would come of it
}

// ResultsEntered is what a table of results came to.
type ResultsEntered struct {
	Schema  string     `json:"schema"`
	Try     bool       `json:"dry_run"`
	Rows    int        `json:"rows"`
	Entered int        `json:"entered"`
	Known   int        `json:"known_already"`
	Results []Resulted `json:"results"`
}

// EnterResults enters a table of results. What is wrong with its rows is an
// intake.Problems.
func EnterResults(ctx context.Context, a *app.App, c app.Caller, q Results) (app.Did[ResultsEntered], error) {
	enter := func(s *app.Session) (ResultsEntered, error) {
		d := ResultsEntered{Schema: app.Schema("make-results"), Try: q.Try, Rows: len(q.Rows), Results: []Resulted{}}
		now, known, err := s.Moment()
		if err != nil {
			return d, err
		}
		bad, in := intake.Problems(slices.Clone(q.Bad)), entering{Session: s}
		dates := s.Column()
		for _, r := range q.Rows {
			dates.Learn(r.When)
		}
		for _, r := range q.Rows {
			if s.Ctx.Err() != nil {
				return d, s.Ctx.Err()
			}
			at, exact := now, known
			if r.When != "" {
				var by day.Reader
				if by, err = dates.For(r.When); err == nil {
					at, exact, err = s.MomentBy(by, r.When, "date")
				}
			}
			var x Resulted
			if err == nil {
				x, err = in.one(NewResult{r.Lot, r.Sample, r.Test, r.Found, r.Report, r.Note}, at, exact)
			}
			if err == nil && r.When == "" && s.On == "" && s.At == "" && !x.Same {
				err = app.Refuse(app.RowNeedsDate).In("date")
			}
			if err != nil {
				refusal := app.AsRefusal(err)
				bad, err = append(bad, r.Problem(columnOf(refusal.At.Field), refusal)), nil
				continue
			}
			if d.Entered++; x.Same {
				d.Entered, d.Known = d.Entered-1, d.Known+1
			}
			d.Results = append(d.Results, x)
		}
		if len(bad) > 0 {
			return d, bad
		}
		return d, nil
	}
	if q.Try {
		d, err := app.Try(ctx, a, c, enter)
		return app.Did[ResultsEntered]{Result: d}, err
	}
	return app.Act(ctx, a, c, enter)
}

// columnOf is the column of a table that a field of a request comes from.
func columnOf(field string) string {
	switch field {
	case "found":
		return "result"
	case "date", "lot", "test":
		return field
	}
	return "sample"
}
