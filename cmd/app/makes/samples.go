package makes

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
	"rindkeep/wheel/limit"
)

// NewSample asks to record that a sample of a lot was taken for a laboratory. The lot
// is held until its results are in.
type NewSample struct {
	Lot    string   // or the tag of one of its wheels
	Tests  []string // what is looked for
	Lab    string
	Number string // the sample's; "": the next of the lot
	Note   string
	Sure   bool // though a result for the test is awaited
}

// Sampled is a sample as it was recorded.
type Sampled struct {
	Schema string       `json:"schema"`
	Lot    string       `json:"lot"`
	Sample string       `json:"sample"`
	Lab    string       `json:"lab"`
	At     string       `json:"at"`
	Tests  []SampleTest `json:"tests"`
	LimitsOf
	Wheels int  `json:"wheels_held"` // those here
	Same   bool `json:"no_change"`
}

// LimitsOf is whose limits the tests of a lot are held against, besides the maker's own.
type LimitsOf struct {
	Countries []string        `json:"countries"`
	Milk      wheel.Treatment `json:"milk_treatment"` // "": nobody said
}

// SampleTest is a test with the limits that its result will be held against.
type SampleTest struct {
	Test   string      `json:"test"`
	Limits []TestLimit `json:"limits"` // none: no result of it ends a hold
}

// TestLimit is a limit and, of a result, whether the result is inside it.
type TestLimit struct {
	Limit   string `json:"limit"`
	Asks    string `json:"asks"`
	Source  string `json:"source"`
	Edition string `json:"edition"`
	Read    string `json:"read"`
	Inside  *bool  `json:"inside"` // null: there is no result yet
}

// SampleTwice refuses a test that a sample is already tested for.
type SampleTwice struct {
	Sample string `json:"sample"`
	Test   string `json:"test"`
}

// Code implements reason.Reason.
func (SampleTwice) Code() string { return "sampled-already" }

// TestAwaited doubts a sample for a test of which the lot awaits a result already.
type TestAwaited struct {
	Sample string `json:"sample"`
	Test   string `json:"test"`
}

// Code implements reason.Reason.
func (TestAwaited) Code() string { return "test-awaited" }

// awaits doubts a test whose result the lot awaits, where the sample wasn't given a number.
func (l lab) awaits(test string) error {
	for _, t := range l.tests {
		if strings.EqualFold(t.Test, test) && t.Result == nil {
			return app.Unsure(TestAwaited{t.Number, t.Test}).Of(l.make.Lot)
		}
	}
	return nil
}

// TakeSample records a sample, a test for each thing looked for.
func TakeSample(ctx context.Context, a *app.App, c app.Caller, q NewSample) (d app.Did[Sampled], err error) {
	q.Tests = slices.DeleteFunc(q.Tests, func(t string) bool { return strings.TrimSpace(t) == "" })
	if len(q.Tests) == 0 {
		return d, app.Misuse("test", reason.Missing{What: "test"})
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Sampled, error) { return takeSample(s, q) })
}

func takeSample(s *app.Session, q NewSample) (Sampled, error) {
	d := Sampled{Schema: app.Schema("make-sample"), Lab: q.Lab}
	l, err := labOf(s, q.Lot)
	if err != nil {
		return d, err
	}
	at, _, err := s.Moment()
	if err != nil {
		return d, err
	}
	ask := !q.Sure
	if q.Number = strings.TrimSpace(q.Number); q.Number == "" {
		q.Number = l.next()
	} else {
		ask = false // a sample of several, by its number
	}
	d.LimitsOf = l.limitsOf()
	d.Lot, d.Sample, d.At = l.make.Lot, q.Number, app.Instant(at, s.Zone)
	var es []wheel.Entry
	for _, t := range q.Tests {
		test, _ := limit.Known(l.limits, strings.TrimSpace(t))
		if err := l.awaits(test); ask && err != nil {
			return d, err
		}
		x := wheel.LabSample{Number: q.Number, Test: test, Lab: strings.TrimSpace(q.Lab)}
		if err := x.Check(); err != nil {
			return d, app.At("test", err)
		}
		e := wheel.Entry{Subject: l.make.ID, Kind: wheel.Sampled, At: at, Note: q.Note, Detail: x.Detail()}
		if old, ok := l.find(q.Number, test); ok && !old.Entry.Same(e) {
			return d, app.Refuse(SampleTwice{q.Number, test}).Of(l.make.Lot)
		}
		es = append(es, s.Entry(e))
		d.Tests = append(d.Tests, SampleTest{test, l.asked(test)})
	}
	res, err := s.Write.Put(es...)
	if err != nil {
		return d, err
	}
	d.Same = res.Written == 0
	here, err := s.WheelsHere(l.make.ID)
	d.Wheels = len(here)
	return d, err
}

// lab is what a lot's tests need: the tests there are, the limits on file and whose
// law the lot follows.
type lab struct {
	make      wheel.Make
	tests     []wheel.LotTest
	limits    []limit.Limit
	countries []string
	milk      wheel.Treatment
}

func labOf(s *app.Session, lot string) (l lab, err error) {
	if l.make, err = Lot(s, lot); err != nil {
		return l, err
	}
	sheet, err := s.Tx.MakeSheet(l.make.ID)
	if err != nil {
		return l, err
	}
	l.tests = sheet.Tests
	if l.limits, err = s.Tx.Limits(); err != nil {
		return l, err
	}
	law, err := s.Tx.MakeLaw(l.make)
	if err != nil {
		return l, err
	}
	l.countries = law.Countries
	milk, err := s.Tx.MilkOf(l.make.ID)
	l.milk = milk.Treatment
	return l, err
}

// find is the test of a sample that a number and a test name.
func (l lab) find(number, test string) (wheel.LotTest, bool) {
	i := slices.IndexFunc(l.tests, func(t wheel.LotTest) bool {
		return strings.EqualFold(t.Number, number) && strings.EqualFold(t.Test, test)
	})
	if i < 0 {
		return wheel.LotTest{}, false
	}
	return l.tests[i], true
}

// next is the number of the lot's next sample.
func (l lab) next() string {
	for n := 1; ; n++ {
		number := fmt.Sprintf("%s-S%d", l.make.Lot, n)
		if !slices.ContainsFunc(l.tests, func(t wheel.LotTest) bool { return strings.EqualFold(t.Number, number) }) {
			return number
		}
	}
}

func (l lab) limitsOf() LimitsOf { return LimitsOf{app.Filled(l.countries), l.milk} }

// asked are the limits that a test of the lot is held against.
func (l lab) asked(test string) []TestLimit {
	out := []TestLimit{}
	for _, x := range limit.Select(l.limits, test, l.countries, l.milk) {
		out = append(out, TestLimit{x.Name, x.Asks().String(), x.Cite(), x.Edition, x.Read, nil})
	}
	return out
}

// judged holds a finding against them.
func (l lab) judged(test string, f wheel.Finding) (out []wheel.Judged) {
	return app.Each(limit.Select(l.limits, test, l.countries, l.milk), func(x limit.Limit) wheel.Judged {
		return x.Judge(f)
	})
}

// limitsOf are limits that a result was held against.
func limitsOf(js []wheel.Judged) []TestLimit {
	out := []TestLimit{}
	for _, j := range js {
		out = append(out, TestLimit{j.Limit, j.Asks, j.Source, j.Edition, j.Read, &j.Inside})
	}
	return out
}

// LabTest is one test of a sample of a lot.
type LabTest struct {
	Lot    string      `json:"lot"`
	Sample string      `json:"sample"`
	Test   string      `json:"test"`
	Lab    string      `json:"lab"`
	Taken  string      `json:"taken"`
	By     string      `json:"by"`
	Result *string     `json:"result"` // null: awaited
	Came   *string     `json:"came"`
	Report string      `json:"report"`
	Open   bool        `json:"open"` // it holds the wheels that nobody released from it
	Limits []TestLimit `json:"limits"`

	Of wheel.LotTest `json:"-"`
}

// LabTestOf publishes a test of a lot.
func LabTestOf(s *app.Session, lot string, t wheel.LotTest) LabTest {
	d := LabTest{
		Lot: lot, Sample: t.Number, Test: t.Test, Lab: t.Lab, Taken: app.Instant(t.Entry.At, s.Zone), By: t.Entry.By,
		Open: t.Open(), Limits: []TestLimit{}, Of: t,
	}
	if r := t.Result; r != nil {
		d.Result, d.Came, d.Report = &r.Found, app.OrNull(app.Instant(t.Came.At, s.Zone)), r.Report
		d.Limits = limitsOf(r.Limits)
	}
	return d
}

// SamplesAsked asks for the samples of lots; of all where none is named.
type SamplesAsked struct {
	Lots []string
	Open bool // only those without a result within its limits
	Most int  // 0: all
}

// SampleList is samples by lot, those of the newest makes first.
type SampleList struct {
	Schema  string    `json:"schema"`
	More    int       `json:"more"` // that would have been listed after these
	Samples []LabTest `json:"samples"`
}

// Samples lists samples with their results.
func Samples(ctx context.Context, a *app.App, c app.Caller, q SamplesAsked) (SampleList, error) {
	return app.AskLong(ctx, a, c, func(s *app.Session) (SampleList, error) {
		d := SampleList{Schema: app.Schema("make-samples"), Samples: []LabTest{}}
		all, err := tested(s, q.Lots)
		for _, t := range all {
			if !q.Open || t.Open {
				d.Samples = append(d.Samples, t)
			}
		}
		d.Samples, d.More = app.First(d.Samples, q.Most)
		return d, err
	})
}

// tested are the tests of lots; of all where none is named.
func tested(s *app.Session, lots []string) (out []LabTest, err error) {
	add := func(m wheel.Make) error {
		es, err := s.Tx.History(m.ID)
		for _, t := range wheel.LotTests(es) {
			out = append(out, LabTestOf(s, m.Lot, t))
		}
		return err
	}
	for _, lot := range lots {
		m, err := Lot(s, lot)
		if err == nil {
			err = add(m)
		}
		if err != nil {
			return out, err
		}
	}
	if len(lots) > 0 {
		return out, nil
	}
	for m, err := range s.Tx.Makes() {
		if err == nil {
			err = add(m)
		}
		if err != nil {
			return out, err
		}
	}
	return out, nil
}
