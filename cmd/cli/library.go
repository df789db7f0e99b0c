package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/text"
	"rindkeep/schedule"
	"rindkeep/wheel/variety"
)

// maxLibraryFile is the largest plan or variety file read, in bytes.
const maxLibraryFile = 64 << 10

// catalogueFile reads a TOML file named on the command line and gives it the
// name its errors bear.
func (a *app) catalogueFile(path string) (name string, data []byte, err error) {
	in, err := a.openFile(path)
	if err != nil {
		return "", nil, err
	}
	defer in.Close()
	data, err = io.ReadAll(io.LimitReader(in, maxLibraryFile+1))
	if a.ctx.Err() != nil {
		return "", nil, a.ctx.Err()
	}
	if err != nil {
		return "", nil, fmt.Errorf("cannot read %s: %s", safeWord(path), plainOS(err))
	}
	name = filepath.Base(path)
	if path == "-" {
		name = "standard input"
	}
	return name, data, nil
}

func (a *app) planCmd() *cobra.Command {
	list := a.nowCmd("list", "The rind plans", "\nrindkeep plan list", none, func(cmd *cobra.Command, _ []string) error {
		return a.catalogue(func(own func(kind, name string) bool, s *session) error {
			plans := schedule.Builtin()
			if s != nil {
				var err error
				if plans, err = s.tx.Plans(); err != nil {
					return err
				}
			}
			type doc struct {
				Name  string `json:"name"`
				Title string `json:"title"`
				Steps int    `json:"steps"`
				Own   bool   `json:"own"`
			}
			docs := []doc{}
			t := text.Table{Columns: []text.Column{{Title: "plan"}, {Title: "for", Wrap: true}, {Title: "steps", Right: true}, {}}}
			for _, p := range plans {
				o := own("plan", p.Name)
				docs = append(docs, doc{p.Name, p.Title, len(p.Steps), o})
				t.Add(p.Name, p.Title, fmt.Sprint(len(p.Steps)), ownWord(o))
			}
			if a.json {
				return a.document(struct {
					Schema string `json:"schema"`
					Plans  []doc  `json:"plans"`
				}{schema("plan-list"), docs})
			}
			a.lines(t.Lines(a.env.Columns()))
			return nil
		})
	})
	show := a.nowCmd("show NAME", "One rind plan as its TOML text", `
rindkeep plan show waxed-hard
rindkeep plan show waxed-hard > my-plan.toml`, exactly("NAME"), func(cmd *cobra.Command, args []string) error {
		return a.catalogue(func(own func(kind, name string) bool, s *session) error {
			p, err := s.planNamed(args[0])
			if err != nil {
				return err
			}
			return a.catalogueText("plan", p.Name, p.Title, p.Text)
		})
	})
	check := a.nowCmd("check FILE", "Check a rind plan without adding it", `
rindkeep plan check my-plan.toml`, exactly("FILE"), func(cmd *cobra.Command, args []string) error {
		name, data, err := a.catalogueFile(args[0])
		if err != nil {
			return err
		}
		p, err := schedule.ParsePlan(name, data)
		if err != nil {
			return at(args[0], err)
		}
		return a.catalogueGood("plan", p.Name, p.Title, "is sound")
	})
	add := a.cmd("add FILE", "Add your own rind plan, or override one", `
rindkeep plan add my-plan.toml`, exactly("FILE"), func(cmd *cobra.Command, args []string) error {
		name, data, err := a.catalogueFile(args[0])
		if err != nil {
			return err
		}
		if _, err := schedule.ParsePlan(name, data); err != nil {
			return at(args[0], err)
		}
		if err := a.create(""); err != nil {
			return err
		}
		return a.update(func(s *session) error {
			p, err := s.write.PutPlan(name, data)
			if err != nil {
				return at(args[0], err)
			}
			word := "is in the book"
			if _, ok := schedule.Find(p.Name); ok {
				word += ", in place of the built-in one"
			}
			return a.catalogueGood("plan", p.Name, p.Title, word+"; what is due was reckoned anew")
		})
	})
	names := func(s *session, _ int, _ string) []string { return s.planNames() }
	return a.group("plan", "Rind plans: what handling a rind gets, and when", list, a.completesArgs(show, names), check, add)
}

func (a *app) varietyCmd() *cobra.Command {
	list := a.nowCmd("list", "The varieties", "\nrindkeep variety list", none, func(cmd *cobra.Command, _ []string) error {
		return a.catalogue(func(own func(kind, name string) bool, s *session) error {
			vs := variety.Builtin()
			if s != nil {
				var err error
				if vs, err = s.tx.Varieties(); err != nil {
					return err
				}
			}
			type doc struct {
				Name     string   `json:"name"`
				Title    string   `json:"title"`
				Rind     string   `json:"rind"`
				Plan     string   `json:"plan"`
				Moisture *float64 `json:"moisture_pct"`
				Weight   *float64 `json:"weight_g"`
				Ready    int      `json:"ready_days"`
				Own      bool     `json:"own"`
			}
			docs := []doc{}
			t := text.Table{Columns: []text.Column{{Title: "variety"}, {Title: "what", Wrap: true}, {Title: "rind"}, {Title: "plan"}, {Title: "moisture", Right: true}, {Title: "ready", Right: true}, {}}}
			for _, v := range vs {
				o := own("variety", v.Name)
				docs = append(docs, doc{v.Name, v.Title, v.Rind, v.Plan, pctNum(v.Composition.Moisture), num(float64(v.Weight)), v.ReadyDays, o})
				t.Add(v.Name, v.Title, v.Rind, v.Plan, fmt.Sprintf("%.1f %%", v.Composition.Moisture.Percent()), fmt.Sprintf("%d d", v.ReadyDays), ownWord(o))
			}
			if a.json {
				return a.document(struct {
					Schema    string `json:"schema"`
					Varieties []doc  `json:"varieties"`
				}{schema("variety-list"), docs})
			}
			a.lines(t.Lines(a.env.Columns()))
			return nil
		})
	})
	show := a.nowCmd("show NAME", "One variety as its TOML text, sources and all", `
rindkeep variety show tomme
rindkeep variety show tomme > my-tomme.toml`, exactly("NAME"), func(cmd *cobra.Command, args []string) error {
		return a.catalogue(func(own func(kind, name string) bool, s *session) error {
			v, err := s.varietyNamed(args[0])
			if err != nil {
				return err
			}
			return a.catalogueText("variety", v.Name, v.Title, v.Text)
		})
	})
	check := a.nowCmd("check FILE", "Check a variety without adding it", `
rindkeep variety check my-tomme.toml`, exactly("FILE"), func(cmd *cobra.Command, args []string) error {
		name, data, err := a.catalogueFile(args[0])
		if err != nil {
			return err
		}
		v, err := variety.Parse(name, data)
		if err != nil {
			return at(args[0], err)
		}
		return a.catalogueGood("variety", v.Name, v.Title, "is sound")
	})
	add := a.cmd("add FILE", "Add your own variety, or override one", `
rindkeep variety add my-tomme.toml`, exactly("FILE"), func(cmd *cobra.Command, args []string) error {
		name, data, err := a.catalogueFile(args[0])
		if err != nil {
			return err
		}
		if _, err := variety.Parse(name, data); err != nil {
			return at(args[0], err)
		}
		if err := a.create(""); err != nil {
			return err
		}
		return a.update(func(s *session) error {
			v, err := s.write.PutVariety(name, data)
			if err != nil {
				return at(args[0], err)
			}
			word := "is in the book"
			if _, ok := variety.Find(v.Name); ok {
				word += ", in place of the built-in one"
			}
			return a.catalogueGood("variety", v.Name, v.Title, word+"; what is due was reckoned anew")
		})
	})
	names := func(s *session, _ int, _ string) []string { return s.varietyNames() }
	return a.group("variety", "Varieties: kinds of cheese, with their sources", list, a.completesArgs(show, names), check, add)
}

func ownWord(own bool) string {
	if own {
		return "your own"
	}
	return ""
}

// catalogue runs fn with the book's own plans and varieties over the built-in
// ones; where there is no book the built-in ones serve and s is nil.
func (a *app) catalogue(fn func(own func(kind, name string) bool, s *session) error) error {
	err := a.view(func(s *session) error {
		return fn(func(kind, name string) bool {
			switch kind {
			case "plan":
				return s.tx.OwnPlan(name)
			case "law":
				return s.tx.OwnLaw(name)
			}
			return s.tx.OwnVariety(name)
		}, s)
	})
	if exitCode(err) == exitNoBook && isNoBook(err) {
		return fn(func(string, string) bool { return false }, nil)
	}
	return err
}

// planNamed finds a plan in the book, or without one (s nil) in the library.
func (s *session) planNamed(name string) (schedule.Plan, error) {
	if s != nil {
		return s.tx.Plan(name)
	}
	p, ok := schedule.Find(name)
	if !ok {
		return p, notInLibrary("plan", name)
	}
	return p, nil
}

func (s *session) varietyNamed(name string) (variety.Variety, error) {
	if s != nil {
		return s.tx.Variety(name)
	}
	v, ok := variety.Find(name)
	if !ok {
		return v, notInLibrary("variety", name)
	}
	return v, nil
}

func (a *app) catalogueText(kind, name, title, toml string) error {
	if a.json {
		return a.document(struct {
			Schema string `json:"schema"`
			Name   string `json:"name"`
			Title  string `json:"title"`
			TOML   string `json:"toml"`
		}{schema(kind), name, title, toml})
	}
	a.print("%s", toml)
	if !strings.HasSuffix(toml, "\n") {
		a.print("\n")
	}
	return nil
}

func (a *app) catalogueGood(kind, name, title, word string) error {
	if a.json {
		return a.document(struct {
			Schema string `json:"schema"`
			Name   string `json:"name"`
			Title  string `json:"title"`
		}{schema(kind + "-good"), name, title})
	}
	a.print("%s %s (%s) %s\n", kind, name, text.Safe(title), word)
	return nil
}
