package wheel

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// The losses below are worked out by hand from the weights: within a stretch
// the retained fraction is net weight over net weight at the stretch's start,
// stretches multiply, and a coat's mass is tare.
func TestLossThroughWhatHappensToAWheel(t *testing.T) {
	for _, c := range []struct {
		name  string
		write func(d *diary)
		want  []float64 // retained at each weighing
		tare  float64
		gap   float64 // NaN: none
		notes reason.List
	}{
		{"plain weighings", func(d *diary) {
			d.weigh(0, 2000)
			d.weigh(1, 1980)
			d.weigh(5, 1940)
		}, []float64{1, 0.99, 0.97}, 0, math.NaN(), nil},

		{"no weight at all", func(d *diary) {
			d.on(1, Entry{Kind: Did, Job: Turn})
		}, nil, 0, math.NaN(), nil},

		{"a coat weighed before and after", func(d *diary) {
			d.weigh(0, 2000)
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Before: 1900, Weight: 1975})
			d.weigh(10, 1970) // net 1895 of 1900
		}, []float64{1, 0.95 * 1895 / 1900}, 75, math.NaN(), nil},

		{"a coat weighed only before: the next weight tells the coat", func(d *diary) {
			d.weigh(0, 2000)
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Before: 1900})
			d.weigh(10, 1970) // with no curve no drying is taken: the coat is 70
			d.weigh(20, 1951) // 19 lost of 1900
		}, []float64{1, 0.95, 0.95 * 0.99}, 70, 5, reason.List{CoatByCurve{70}}},

		{"a coat weighed only after: the last weight stands for before", func(d *diary) {
			d.weigh(0, 2000)
			d.weigh(4, 1900)
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Weight: 1975})
			d.weigh(10, 1956) // net 1881 of 1900
		}, []float64{1, 0.95, 0.95 * 0.99}, 75, 4, reason.List{BeforeByCurve{CoatedOn, 1900}}},

		{"a coat weighed neither before nor after", func(d *diary) {
			d.weigh(0, 2000)
			d.weigh(4, 1900)
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax"})
			d.weigh(10, 1980)
			d.weigh(20, 1961)
		}, []float64{1, 0.95, 0.95, 0.95 * 0.99}, 80, 4, reason.List{
			BeforeByCurve{CoatedOn, 1900},
			CoatByCurve{80}}},

		{"a coat right after a weighing needs no guess", func(d *diary) {
			d.weigh(0, 2000)
			d.weigh(5, 1900)
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Weight: 1975})
			d.weigh(10, 1956)
		}, []float64{1, 0.95, 0.95 * 0.99}, 75, math.NaN(), nil},

		{"a core by the mass it took", func(d *diary) {
			d.weigh(0, 2000)
			d.weigh(60, 1800)
			d.on(60, Entry{Kind: Cored, Removed: 20})
			d.weigh(90, 1762.2) // 1780 to 1762.2 is 1 %
		}, []float64{1, 0.9, 0.9 * 0.99}, 0, math.NaN(), nil},

		{"a core weighed before and after", func(d *diary) {
			d.weigh(0, 2000)
			d.on(60, Entry{Kind: Cored, Before: 1800, Weight: 1780})
			d.weigh(90, 1762.2)
		}, []float64{1, 0.9 * 0.99}, 0, math.NaN(), nil},

		{"a core weighed only before takes its mass from Removed", func(d *diary) {
			d.weigh(0, 2000)
			d.on(60, Entry{Kind: Cored, Before: 1800, Removed: 20})
			d.weigh(90, 1762.2)
		}, []float64{1, 0.9 * 0.99}, 0, math.NaN(), nil},

		{"a core nobody weighed starts a stretch at the next weight", func(d *diary) {
			d.weigh(0, 2000)
			d.weigh(60, 1800)
			d.on(60, Entry{Kind: Cored})
			d.weigh(90, 1750)
			d.weigh(120, 1732.5)
		}, []float64{1, 0.9, 0.9, 0.9 * 0.99}, 0, 60, reason.List{CutByCurve{}}},

		{"cut in half", func(d *diary) {
			d.weigh(0, 2000)
			d.on(30, Entry{Kind: Cut, Before: 1800, Weight: 900})
			d.weigh(40, 891)
		}, []float64{1, 0.9 * 0.99}, 0, math.NaN(), nil},

		{"cut in half with its wax on: half the wax goes too", func(d *diary) {
			d.weigh(0, 2000)
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Before: 1900, Weight: 2000})
			d.on(30, Entry{Kind: Cut, Before: 2000, Weight: 1000}) // 950 of cheese, 50 of wax
			d.weigh(40, 1000-9.5)
		}, []float64{1, 0.95 * 0.99}, 50, math.NaN(), nil},

		{"coated twice: the tare is both coats", func(d *diary) {
			d.weigh(0, 2000)
			d.on(5, Entry{Kind: CoatedOn, Coat: "cloth", Before: 1900, Weight: 1950})
			d.on(6, Entry{Kind: CoatedOn, Coat: "wax", Before: 1950, Weight: 2030})
			d.weigh(40, 2011)
		}, []float64{1, 0.95 * 0.99}, 130, math.NaN(), nil},

		{"stripped and coated again: the tare is the new coat", func(d *diary) {
			d.weigh(0, 2000)
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Before: 1900, Weight: 2000})
			d.on(30, Entry{Kind: CoatedOn, Coat: "wax", Before: 1990, Weight: 1960}) // 1890 of cheese, 70 of wax
			d.weigh(40, 1960-18.9)
		}, []float64{1, 1890.0 / 2000 * 0.99}, 70, math.NaN(), nil},

		{"cut without a weight, weighed before the wax: the cut ends there", func(d *diary) {
			d.weigh(0, 2000)
			d.weigh(30, 1800)
			d.on(30, Entry{Kind: Cut})
			d.on(37, Entry{Kind: CoatedOn, Coat: "wax", Before: 890, Weight: 940})
			d.weigh(60, 940-8.9)
		}, []float64{1, 0.9, 0.9 * 0.99}, 50, 30, reason.List{CutByCurve{}}},

		{"coated without a weight, weighed before the cut: the coat is known there", func(d *diary) {
			d.weigh(0, 2000)
			d.weigh(5, 1900)
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax"})
			d.on(30, Entry{Kind: Cut, Before: 2000, Weight: 1000})
			d.weigh(60, 1000-9.5)
		}, []float64{1, 0.95, 0.95 * 0.99}, 50, 5, reason.List{CoatByCurve{100}}},

		{"cut without a weight, weighed only with the wax on: no loss is made of the cut", func(d *diary) {
			d.weigh(0, 2000)
			d.weigh(30, 1800)
			d.on(30, Entry{Kind: Cut})
			d.on(37, Entry{Kind: CoatedOn, Coat: "wax", Weight: 940})
			d.weigh(60, 940-9.4)
		}, []float64{1, 0.9, 0.9 * 0.99}, 0, 30, reason.List{
			CutByCurve{},
			CutThenCoated{}}},

		{"written down out of order", func(d *diary) {
			d.weigh(10, 1970)
			d.weigh(0, 2000)
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Before: 1900, Weight: 1975})
			d.weigh(3, 1920)
		}, []float64{1, 0.96, 0.95 * 1895 / 1900}, 75, math.NaN(), nil},

		{"a struck weight does not count", func(d *diary) {
			d.weigh(0, 2000)
			wrong := d.weigh(1, 1490)
			d.weigh(2, 1960)
			d.strike(2, wrong)
		}, []float64{1, 0.98}, 0, math.NaN(), nil},

		{"a struck coat was never on", func(d *diary) {
			d.weigh(0, 2000)
			wrong := d.on(1, Entry{Kind: CoatedOn, Coat: "wax", Before: 1990, Weight: 2090})
			d.weigh(2, 1960)
			d.strike(3, wrong)
		}, []float64{1, 0.98}, 0, math.NaN(), nil},

		{"a struck green weight leaves the next as green", func(d *diary) {
			wrong := d.weigh(0, 200)
			d.weigh(0.5, 2000)
			d.weigh(2, 1960)
			d.strike(3, wrong)
		}, []float64{1, 0.98}, 0, math.NaN(), nil},

		{"two weights of the same minute both stand, in the order written", func(d *diary) {
			d.weigh(0, 2000)
			d.weigh(3, 1940)
			d.weigh(3, 1938)
		}, []float64{1, 0.97, 0.969}, 0, math.NaN(), nil},

		{"weights only after a coat: the first is the green weight, coat and all", func(d *diary) {
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax"})
			d.weigh(6, 2000)
			d.weigh(16, 1980)
		}, []float64{1, 0.99}, 0, math.NaN(), nil},

		{"weights only after a coat that was weighed: its tare is known", func(d *diary) {
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Before: 1900, Weight: 2000})
			d.weigh(6, 2000)
			d.weigh(16, 1981)
		}, []float64{1, 0.99}, 100, math.NaN(), nil},

		{"a second coat over one nobody weighed, weighed only after", func(d *diary) {
			d.weigh(0, 2000)
			d.on(0, Entry{Kind: CoatedOn, Coat: "cloth"})
			d.on(0, Entry{Kind: CoatedOn, Coat: "wax", Weight: 2150})
			d.weigh(10, 2130)
		}, []float64{1, 0.99}, 150, math.NaN(), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			var d diary
			c.write(&d)
			got := d.chain()
			if !sameFigures(retained(got), c.want, 1e-12) {
				t.Errorf("retained %v, want %v", retained(got), c.want)
			}
			if !near(float64(got.Tare), c.tare, 1e-9) {
				t.Errorf("tare %v, want %v", got.Tare, c.tare)
			}
			if !near(got.Gap, c.gap, 1e-9) {
				t.Errorf("first guessed link on day %v, want %v", got.Gap, c.gap)
			}
			if !got.Notes.Equal(c.notes) {
				t.Errorf("notes %+v, want %+v", got.Notes, c.notes)
			}
			if n := len(retained(got)); n != len(c.want) {
				t.Errorf("%d weighings, want %d", n, len(c.want))
			}
		})
	}
}

func TestAGuessedLinkWidensWhatComesAfterIt(t *testing.T) {
	var sure, guessed diary
	for _, d := range []*diary{&sure, &guessed} {
		d.weigh(0, 2000)
		d.weigh(4, 1900)
	}
	sure.on(5, Entry{Kind: CoatedOn, Coat: "wax", Before: 1900, Weight: 1975})
	guessed.on(5, Entry{Kind: CoatedOn, Coat: "wax", Weight: 1975})
	sure.weigh(10, 1956)
	guessed.weigh(10, 1956)
	a, b := sure.chain(), guessed.chain()
	p, q := a.Points, b.Points
	if p[1].SD != q[1].SD {
		t.Errorf("the weight before the coat has SD %v and %v", p[1].SD, q[1].SD)
	}
	if want := math.Hypot(p[2].SD, 0.02*q[2].Retained); !near(q[2].SD, want, 1e-6) {
		t.Errorf("after the guess SD is %v, want %v: two hundredths more", q[2].SD, want)
	}
	if x := b.SDOf(1950); !(x > a.SDOf(1950)) {
		t.Errorf("a further weight has SD %v after a guess, %v without", x, a.SDOf(1950))
	}
}

func TestAMissingWeightIsTakenFromTheCurveLent(t *testing.T) {
	// A curve that falls by a hundredth of the green weight a day, half of its
	// loss in doubt.
	curve := func(d float64) (float64, float64) { return 1 - 0.01*d, 0.005 * d }
	var d diary
	d.weigh(0, 2000)
	d.weigh(4, 1920)
	d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Weight: 1975})
	d.weigh(10, 1956)
	es := Live(d.es)
	Sort(es)
	c := Link(es, curve)
	// On day 5 the cheese is 1920 x 0.95/0.96 = 1900 g: wax 75 g, 19 of 1900 lost since.
	if want := []float64{1, 0.96, 0.95 * 0.99}; !sameFigures(retained(c), want, 1e-12) {
		t.Errorf("retained %v, want %v", retained(c), want)
	}
	if !near(float64(c.Tare), 75, 1e-9) || !near(c.Gap, 4, 1e-9) {
		t.Errorf("tare %v, gap %v", c.Tare, c.Gap)
	}
	if !c.Notes.Equal(reason.List{BeforeByCurve{CoatedOn, 1900}}) {
		t.Errorf("notes %+v", c.Notes)
	}
	// The drop between the two days, 1/96, is in doubt by half of itself.
	plain := noise(1956, 1) / 1881
	if want := c.Points[2].Retained * math.Hypot(plain, 0.5/96); !near(c.Points[2].SD, want, 1e-9) {
		t.Errorf("SD %v, want %v", c.Points[2].SD, want)
	}
}

func TestACurveThatMakesNoSenseIsLeftAside(t *testing.T) {
	var d diary
	d.weigh(0, 2000)
	d.on(5, Entry{Kind: CoatedOn, Coat: "wax"})
	d.weigh(10, 1956)
	for name, e := range map[string]Expect{
		"nothing left": func(float64) (float64, float64) { return 0, 0 },
		"no number":    func(float64) (float64, float64) { return math.NaN(), math.NaN() },
		"negative":     func(float64) (float64, float64) { return -1, 1 },
	} {
		c := Link(d.es, e)
		if got := retained(c); !sameFigures(got, []float64{1, 1}, 1e-12) &&
			!sameFigures(got, []float64{1, 1956.0 / 2000}, 1e-12) {
			t.Errorf("%s: retained %v", name, got)
		}
		if sd := c.Points[1].SD; !(sd > 0.02 && sd < 0.1) {
			t.Errorf("%s: SD %v", name, sd)
		}
	}
}

func TestAFurtherWeightMeansWhatLinkingItWouldSay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := &diary{}
		d.weigh(0, 2000)
		d.weigh(5, 1900)
		if rapid.Bool().Draw(t, "coated") {
			d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Before: 1900, Weight: 1990})
		}
		if rapid.Bool().Draw(t, "cut") {
			d.on(6, Entry{Kind: Cut, Before: 1950, Weight: 1000})
		}
		before := d.chain()
		w := rapid.Float64Range(900, 1000).Draw(t, "weight")
		d.weigh(9, w)
		p, _ := d.chain().Last()
		if got := before.Of(quantity.Grams(w)); !near(float64(got), float64(p.Loss()), 1e-12) {
			t.Fatalf("%v g would be %v of loss, and is %v", w, got, p.Loss())
		}
	})
	var none Chain
	if none.Of(1000) != 0 || none.SDOf(1000) != 0 {
		t.Error("a weight means a loss without a green weight")
	}
	if _, ok := none.Last(); ok {
		t.Error("an empty chain has a last weighing")
	}
}

func TestTheScalesStepIsSeenInItsWeights(t *testing.T) {
	for _, c := range []struct {
		name    string
		weights []quantity.Grams
		want    quantity.Grams
	}{
		{"no weight", nil, 1},
		{"few weights of a small wheel", []quantity.Grams{2000, 1990}, 1},
		{"few weights of a middling wheel", []quantity.Grams{12000, 11900}, 5},
		{"few weights of a big wheel", []quantity.Grams{32000, 31900, 31800}, 10},
		{"four weights by the gram", []quantity.Grams{2000, 1991, 1985, 1980}, 1},
		{"four weights by two grams", []quantity.Grams{2000, 1992, 1986, 1980}, 2},
		{"four weights by five grams", []quantity.Grams{2000, 1995, 1985, 1980}, 5},
		{"four weights by fifty grams", []quantity.Grams{32000, 31950, 31900, 31850}, 50},
		{"four weights by a hundred grams", []quantity.Grams{32000, 31900, 31700, 31600}, 100},
		{"four weights by a tenth of a gram", []quantity.Grams{200.1, 199.5, 198.7, 197}, 1},
	} {
		if got := ScaleStep(c.weights); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestTheNoiseOfAWeighingIsStepAndHand(t *testing.T) {
	// A uniform error of one step has the standard deviation step/sqrt 12; the
	// hand adds five parts in ten thousand (common practice, no source).
	var d diary
	for i, w := range []float64{2000, 1990, 1980, 1970} {
		d.weigh(float64(i), w)
	}
	c := d.chain()
	if want := math.Sqrt(100.0/12+0.985*0.985) / 1970 * 0.985; c.Step != 10 || !near(c.Points[3].SD, want, 1e-9) ||
		c.Points[0].SD != 0 {
		t.Errorf("step %v, SD %v, want %v", c.Step, c.Points[3].SD, want)
	}
}

func TestTheWeightBeforeACoatIsAWeighing(t *testing.T) {
	var d diary
	d.weigh(0, 2000)
	d.weigh(3, 1940)
	d.on(5, Entry{Kind: CoatedOn, Coat: "wax", Before: 1920, Weight: 1975})
	c := d.chain()
	p, _ := c.Last()
	if c.Weighings() != 3 || !p.Aside || p.Coated || p.Gross != 1920 || !near(p.Retained, 0.96, 1e-12) || p.Day != 5 {
		t.Errorf("%d weighings, the last %+v; want the 1920 g of day 5", c.Weighings(), p)
	}
}
