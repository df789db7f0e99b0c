package words

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
)

// The sentences about samples for laboratories and their results.
func init() {
	learn(
		form[makes.TestAwaited]("the result of {Test}, sample {Sample}, is awaited. Is this another sample for it?"),
		form[makes.SampleTwice]("sample {Sample} is tested for {Test} already"),
		say(func(p Printer, r makes.NoTestAwaited) string {
			return "no sample" + spacedOut(r.Sample) + leading(" of lot", text.Safe(r.Lot)) +
				leading(" tested for", text.Safe(r.Test)) + " is in the book" +
				p.typed("; rindkeep make samples lists them, and rindkeep make sample "+cmp.Or(r.Lot, "LOT")+
					" --test TEST records one", "")
		}),
		form[makes.SeveralAwaited]("several results are awaited: {Tests}[; say which with --sample and --test|; "+
			"say which sample and which test]"),
		form[makes.ResultThere]("sample {Sample} has a result for {Test}: {Result}"),
		form[makes.StrikeResult]("[if that is wrong, cancel it first: rindkeep strike {Entry:shell} --why TEXT|if "+
			"that is wrong, cancel it first]"),
		say(func(_ Printer, r wheels.EndsByResult) string {
			ends := "a result of sample " + text.Safe(r.Sample) + " within its limits"
			if r.May != "" {
				return ends + ", or a release by " + either(strings.Split(r.May, ", "))
			}
			return ends + ", or a release with the reason"
		}),
	)
	flats(map[reason.Flat]string{
		makes.InHowMuch:    "say in how much it wasn't detected: not detected in 25 g",
		makes.BeforeSample: "the result is from before its sample was taken",
	})
}

func spacedOut(s string) string {
	if s == "" {
		return ""
	}
	return " " + text.Safe(s)
}

// labResult says what a laboratory found, and how that stands to the limits.
func (p Printer) labResult(r wheel.LabResult) string {
	words := clauses(r.Test, leading("sample", r.Number)) + ": " + r.Found
	if r.Report != "" {
		words += ", report " + text.Safe(r.Report)
	}
	return words
}

// testedEntry is the same for a history, with the names of the limits.
func (p Printer) testedEntry(r wheel.LabResult) string {
	var in, out []string
	for _, j := range r.Limits {
		if j.Inside {
			in = append(in, j.Limit)
		} else {
			out = append(out, j.Limit)
		}
	}
	switch {
	case len(r.Limits) == 0:
		return p.labResult(r) + "; no limit on file"
	case len(out) > 0:
		return p.labResult(r) + "; NOT shown to be within the limit " + strings.Join(out, ", ")
	}
	return p.labResult(r) + "; within the limit " + strings.Join(in, ", ")
}

// judged says whether a result is inside its limits, and which they are.
func judged(js []wheel.Judged, inside bool) string {
	if len(js) == 0 {
		return "no limit on file, so it ends no hold"
	}
	var in, out []string
	for _, j := range js {
		said := mostly(j.Asks) + " (" + j.Source + ", " + limitRead(j.Edition, j.Read) + ")"
		if j.Inside {
			in = append(in, said)
		} else {
			out = append(out, said)
		}
	}
	if inside {
		return "within the limit: " + strings.Join(in, " and ")
	}
	return "NOT shown to be within the limit: " + strings.Join(out, " or ")
}

// mostly says of a count that it is the most.
func mostly(asks string) string {
	if asks[0] >= '0' && asks[0] <= '9' {
		return "at most " + asks
	}
	return asks
}

// Sampled says what a sample does.
func (p Printer) Sampled(d makes.Sampled) string {
	if d.Same {
		return "no change, recorded already: sample " + text.Safe(d.Sample)
	}
	var tests []string
	for _, t := range d.Tests {
		tests = append(tests, t.Test)
	}
	return fmt.Sprintf("sample %s of lot %s, for %s: %s held until the results are in", text.Safe(d.Sample), d.Lot,
		text.Safe(strings.Join(tests, ", ")), count(d.Wheels, "wheel"))
}

// SampleLimits says what the results of a sample will be held against, a line a test.
func (p Printer) SampleLimits(d makes.Sampled) (out []string) {
	for _, t := range d.Tests {
		if len(t.Limits) == 0 {
			out = append(out, p.noLimit(t.Test, d.LimitsOf)+", so no result of it ends the hold"+
				p.typed("; add one with rindkeep limit add FILE", "; add a limit of your own first"))
		}
		for _, l := range t.Limits {
			out = append(out, fmt.Sprintf("%s: %s (%s, %s); %s", text.Safe(t.Test), mostly(l.Asks), l.Source,
				limitRead(l.Edition, l.Read), checkYourOwn))
		}
	}
	return out
}

// noLimit says that no limit on file may judge a test of a lot.
func (p Printer) noLimit(test string, of makes.LimitsOf) string {
	cheese := ""
	if of.Milk != "" {
		cheese = " in cheese of " + string(of.Milk) + " milk"
	}
	whose := "of yours"
	if len(of.Countries) > 0 {
		whose += " or of " + either(slices.Clone(of.Countries))
	}
	return "no limit " + whose + " on file for " + text.Safe(test) + cheese
}

// Resulted says what a result means for its lot.
func (p Printer) Resulted(d makes.Resulted) []string {
	js := make([]wheel.Judged, len(d.Limits))
	for i, l := range d.Limits {
		js[i] = wheel.Judged{Asks: l.Asks, Source: l.Source, Edition: l.Edition, Read: l.Read, Inside: *l.Inside}
	}
	said := judged(js, d.Inside)
	if len(js) == 0 {
		said = p.noLimit(d.Test, d.LimitsOf) + ", so the hold stays" + p.typed("; add one with rindkeep limit add FILE, "+
			"then strike the result and enter it again", "; add a limit of your own, strike the result and enter it again")
	}
	first := fmt.Sprintf("lot %s, sample %s, %s: %s; %s", d.Lot, text.Safe(d.Sample), text.Safe(d.Test), d.Result, said)
	if d.Same {
		first = "no change, entered already: " + first
	}
	switch {
	case d.Open > 0:
		return []string{first, "OPEN: " + count(d.Open, "test") + " of this lot. Its wheels are HELD, except those " +
			"released from it"}
	default:
		return []string{first, "no test of this lot is open any more"}
	}
}

// LabTest says one test of a sample in a line.
func (p Printer) LabTest(t makes.LabTest) string {
	if t.Of.Result != nil {
		return p.labResult(*t.Of.Result) + "; " + judged(t.Of.Result.Limits, t.Of.Result.Inside())
	}
	return clauses(t.Test, leading("sample", t.Sample), t.Lab) + ": result awaited since " + day10(t.Taken)
}

// LabTestOpen is the same with OPEN before it where it is.
func (p Printer) LabTestOpen(t makes.LabTest) string {
	if t.Open {
		return "OPEN: " + p.LabTest(t)
	}
	return p.LabTest(t)
}

func day10(instant string) string { return instant[:min(10, len(instant))] }

// tracedTest says a laboratory test of a traced lot.
func tracedTest(t trade.Tested) string {
	found := "result awaited"
	if t.Result != "" {
		found = t.Result
	}
	open := ""
	if t.Open {
		open = "OPEN"
	}
	return clauses(t.Test+": "+found, leading("sample", t.Sample), leading("taken", t.Taken.String()), t.Lab,
		leading("report", t.Report), open)
}

// LimitAsks says what a limit asks.
func LimitAsks(l library.LimitLine) string {
	asks := mostly(l.Asks)
	if len(l.Milk) > 0 {
		asks = strings.Join(l.Milk, " or ") + " milk: " + asks
	}
	return asks
}

// LimitSource says where a limit is from.
func LimitSource(l library.LimitLine) string {
	return l.Source + " (" + limitRead(l.Edition, l.Read) + ")"
}

// limitRead says in which edition a limit was read and when. One from memory names the
// edition that it's meant to be of.
func limitRead(edition, read string) string {
	if read == holdrule.FromMemory && edition != "" {
		return edition + ", " + read
	}
	return RuleRead(edition, read)
}
