package cli

import (
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cmd/sheet"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

// mostLabels keeps a slip like "labels all" in a warehouse from filling the
// memory: about 20 KB a label.
const mostLabels = 10000

func (a *app) sheetLabelsCmd() *cobra.Command {
	f := &sheetFlags{}
	var stock string
	var start int
	var cut bool
	c := a.nowCmd("labels "+whatHelp, "Labels with the tag, large, and a QR code that carries it", `
rindkeep sheet labels 261120A
rindkeep sheet labels 261120A --start 7              the first six are used up
rindkeep sheet labels drying/A --stock letter-2x5
rindkeep sheet labels 261120A-03 --stock roll-62 --out - | lp -d labels`, atLeast("WHAT"), func(cmd *cobra.Command, args []string) error {
		k, err := sheet.ParseStock(stock)
		if err != nil {
			return at("--stock", usagef("no label stock %q; there are %s", safeWord(stock), stockNames()))
		}
		if start < 1 || start > k.PerSheet() {
			return at("--start", usagef("--start %d is out of range; a sheet of %s has labels 1 to %d", start, k.Name, k.PerSheet()))
		}
		return a.sheet(f, func(s *session, h sheet.Head) (printed, error) { return s.sheetLabels(h, args, k, start, cut) })
	})
	f.where(c)
	c.Flags().StringVar(&stock, "stock", "a4-3x8", "`NAME` of the label stock: "+stockNames())
	c.Flags().IntVar(&start, "start", 1, "begin at the `N`th label of the first sheet, counted along the rows")
	c.Flags().BoolVar(&cut, "cut", false, "draw lines to cut along, for plain paper")
	_ = c.RegisterFlagCompletionFunc("stock", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		var out []string
		for _, k := range sheet.Stocks {
			out = append(out, k.Name+"\t"+k.What)
		}
		return out, cobra.ShellCompDirectiveNoFileComp
	})
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

func stockNames() string {
	s := ""
	for i, k := range sheet.Stocks {
		if i > 0 {
			s += ", "
		}
		s += k.Name
	}
	return s
}

func (s *session) sheetLabels(h sheet.Head, args []string, k sheet.Stock, start int, cut bool) (printed, error) {
	ws, err := s.pick(args)
	if err != nil {
		return printed{}, err
	}
	switch {
	case len(ws) == 0:
		return printed{}, fmt.Errorf("no wheel of those is here any more; name one by its tag")
	case len(ws) > mostLabels:
		return printed{}, fmt.Errorf("that is %d labels, and at most %d are laid out at once; name a lot or a place", len(ws), mostLabels)
	}
	type kind struct{ lot, made, title string }
	makes := map[uuid.UUID]kind{}
	var ls []sheet.Label
	for _, w := range ws {
		m, ok := makes[w.Make]
		if !ok {
			mk, err := s.tx.Make(w.Make)
			if err != nil {
				return printed{}, err
			}
			v, err := s.tx.Variety(mk.Variety)
			if err != nil {
				return printed{}, err
			}
			m = kind{mk.Lot, words.DayMonthYear(mk.Date), v.Title}
			makes[w.Make] = m
		}
		ls = append(ls, sheet.Label{Tag: w.Tag, Title: m.title, Lot: m.lot, Made: m.made})
	}
	for _, l := range ls {
		if strings.IndexFunc(l.Tag, func(r rune) bool { return r >= 0x80 }) >= 0 {
			s.note("the tag %s holds letters beyond a to z: the code carries it in UTF-8, and some scanners read such letters wrong; try yours first", l.Tag)
			break
		}
	}
	name := fileName("labels", ws[0].Tag)
	if len(ws) > 1 {
		name = fileName("labels", s.today.String())
	}
	draw := func() (sheet.Doc, error) { return sheet.Labels(h, k, start, cut, ls) }
	return printed{draw, name, k.Name, text.Count(len(ls), "label") + ", " + k.What, "print it at full size (100 %), not fitted to the page"}, nil
}
