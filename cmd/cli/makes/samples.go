package makes

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/store/register"
)

func sampleCmd(c *console.Console) *cobra.Command {
	var q makes.NewSample
	cmd := c.Cmd("sample LOT", "Record a sample for a laboratory; the lot is held until its result is in", `
rindkeep make sample 261120A --test "Listeria monocytogenes" --lab "North Lab"
rindkeep make sample 261120A --test Listeria --test Salmonella --number L-4417`, console.Exactly("LOT"),
		func(_ *cobra.Command, args []string) error {
			q.Lot = args[0]
			did, err := console.Surely(c, makes.TakeSample, &q, &q.Sure)
			return console.Done(c, did, err, func(c *console.Console, d makes.Sampled) {
				c.Print("%s\n", c.Words.Sampled(d))
				for _, l := range c.Words.SampleLimits(d) {
					c.Indented(l)
				}
				c.Next("its result: rindkeep make result %s --found TEXT", d.Lot)
			})
		})
	f := cmd.Flags()
	f.StringArrayVar(&q.Tests, "test", nil, "what to look for: `NAME`; may be given again")
	f.StringVar(&q.Lab, "lab", "", "`NAME` of the laboratory")
	f.StringVar(&q.Number, "number", "", "the sample's `NUMBER` (default: the lot's next)")
	noteFlag(cmd, &q.Note)
	f.BoolVar(&q.Sure, "sure", false, "although a result for the same test is awaited")
	c.Completes(cmd, "test", library.Tests)
	return c.CompletesArgs(cmd, lots)
}

func noteFlag(cmd *cobra.Command, note *string) {
	cmd.Flags().StringVar(note, "note", "", "note to save with it: `TEXT`")
}

func resultCmd(c *console.Console) *cobra.Command {
	var q makes.NewResult
	cmd := c.Cmd("result LOT", "Enter what a laboratory found; inside its limits, it ends the hold", `
rindkeep make result 261120A --found "not detected in 25 g" --report 4417
rindkeep make result 261120A --sample L-4417 --test "E. coli" --found "<10 cfu/g"`, console.Exactly("LOT"),
		func(_ *cobra.Command, args []string) error {
			q.Lot = args[0]
			return console.Do(c, makes.EnterResult, q, resulted)
		})
	f := cmd.Flags()
	f.StringVar(&q.Found, "found", "", "the `RESULT`: \"not detected in 25 g\", \"detected\", \"<10 cfu/g\", 240")
	f.StringVar(&q.Number, "sample", "", "`NUMBER` of the sample, if several are awaited")
	f.StringVar(&q.Test, "test", "", "`NAME` of the test, if several are awaited")
	f.StringVar(&q.Report, "report", "", "`NUMBER` of the laboratory's report")
	noteFlag(cmd, &q.Note)
	c.Completes(cmd, "test", library.Tests)
	return c.CompletesArgs(cmd, lots)
}

func resulted(c *console.Console, d makes.Resulted) {
	for _, l := range c.Words.Resulted(d) {
		c.Caution(l)
	}
}

func resultsCmd(c *console.Console) *cobra.Command {
	var f console.TableFlags
	var from string
	cmd := c.Cmd("results", "Enter a laboratory's table of results, CSV or XLSX", `
rindkeep make results --from results.csv       columns: sample, test, result; lot, date, report, note
rindkeep make results --from results.xlsx --sheet July
rindkeep make results --from results.csv --map="sample=Ref, result=Value" --dry-run
rindkeep make results --from results.csv --mapping "North Lab"   as a table was read before`,
		console.NoArgs, func(*cobra.Command, []string) error {
			if from == "" {
				return console.At("--from", console.Usagef("--from is missing: name the table, or - for standard input"))
			}
			given, err := f.Given(register.OfResults)
			if err != nil {
				return err
			}
			return c.Tabled(given, console.Table{File: from, Flags: &f,
				Take: func(m register.Mapping, try bool) (func() error, error) {
					q, err := readResults(c, from, f.Sheet, m)
					if err != nil {
						return nil, err
					}
					q.Try = try
					d, err := makes.EnterResults(c.Ctx, c.App, c.Caller(), q)
					return func() error { return console.Done(c, d, err, enteredAll) }, err
				}})
		})
	fl := cmd.Flags()
	fl.StringVar(&from, "from", "", "the table: `FILE`, or - for standard input")
	f.MapFlag(fl, "")
	f.Add(fl, "")
	return cmd
}

// enteredAll shows what came of a table of results, or would come of it.
func enteredAll(c *console.Console, d makes.ResultsEntered) {
	for _, r := range d.Results {
		resulted(c, r)
	}
	entered := "entered"
	if d.Try {
		entered = "would be entered"
	}
	c.Print("%s: %d %s, %d known already\n", text.Count(d.Rows, "result"), d.Entered, entered, d.Known)
	switch {
	case d.Try:
		c.Note("nothing was recorded")
	case d.Entered > 0:
		c.Next("wrong? rindkeep strike last --why TEXT")
	}
}

// readResults reads the table; one without a good row is refused as a whole.
func readResults(c *console.Console, from, sheet string, m register.Mapping) (q makes.Results, err error) {
	in, err := c.OpenTable(from, from, sheet)
	if err != nil {
		return q, err
	}
	defer in.Close()
	if q.Rows, q.Bad, err = intake.Results(in, intake.How{Columns: m.Columns}); err != nil {
		return q, app.About(from, intake.In(from, err))
	}
	if len(q.Rows) == 0 {
		return q, intake.Problems(q.Bad)
	}
	return q, nil
}

func samplesCmd(c *console.Console) *cobra.Command {
	var q makes.SamplesAsked
	cmd := c.NowCmd("samples [LOT...]", "Samples with their tests and results", `
rindkeep make samples
rindkeep make samples 261120A
rindkeep make samples --open                   those without a result within its limits`, cobra.ArbitraryArgs,
		func(_ *cobra.Command, args []string) error {
			q.Lots = args
			return console.Answer(c, makes.Samples, q, func(c *console.Console, d makes.SampleList) {
				if len(d.Samples) == 0 {
					c.Print("no samples\n")
					return
				}
				t := text.Table{Columns: []text.Column{
					{Title: "lot"}, {Title: "sample"}, {Title: "taken"}, {Title: "test", Wrap: true},
					{Title: "result", Wrap: true}, {},
				}}
				for _, x := range d.Samples {
					result, open := "awaited", ""
					if x.Result != nil {
						result = *x.Result
					}
					if x.Open {
						open = "OPEN"
					}
					t.Add(x.Lot, x.Sample, x.Taken[:10], x.Test, result, open)
				}
				c.Table(t)
				c.Rest(d.More, "test")
			})
		})
	c.MostFlag(cmd, &q.Most)
	cmd.Flags().BoolVar(&q.Open, "open", false, "only those without a result within its limits")
	return c.CompletesArgs(cmd, lots)
}
