package drying

import (
	"math"
	"math/rand/v2"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/wheel/drying/volume"
)

// This file makes up wheels to test the intervals on. They come out of the
// finite volumes with much that the model does not know, and no figure of the
// model's own is used for them but the heat balance at the surface: rooms with
// weather, seasons, defrosts and doors; hygrometers that are off, drift and
// fall silent; diffusivities that depend on the moisture in four ways; rinds
// whose water activity is not the law's and falls as they ripen, which close as they
// harden or let ever less water through; a shelf that covers part of the face; kitchen
// and platform scales; coats weighed on those scales, sound and leaking.

// family is how the inside of a world's cheeses works.
type family int

const (
	power    family = iota // diffusivity a power of the content
	steep                  // diffusivity exponential in the content
	skinning               // diffusivity collapses below a content, salt gathers in the rind
	salted                 // diffusivity falls in a straight line, the brine's salt leaves the rind
)

// regime is a kind of room and of book.
type regime struct {
	name         string
	wet, top     float64 // relative humidity of the room, from and to
	bias         float64 // sd of the hygrometer's error, fraction of RH
	early, late  float64 // day of the last weighing, from and to
	few, many    int     // weighings
	coat         Coat
	leaks        float64 // share of the coats that leak
	closing      bool
	growing      bool    // the rind's resistance grows
	after, every float64 // weighings after the coat, days apart; 0: spread
}

func regimes() []regime {
	return []regime{
		{name: "bare, to the coat", wet: 0.74, top: 0.90, bias: 0.02, early: 4, late: 35, few: 3, many: 14},
		{name: "long ripening", wet: 0.78, top: 0.92, bias: 0.02, early: 60, late: 200, few: 4, many: 20},
		{name: "after wax", wet: 0.76, top: 0.90, bias: 0.02, early: 20, late: 150, few: 5, many: 16, coat: Wax, leaks: 0.15},
		{name: "wet, hygrometer off", wet: 0.91, top: 0.96, bias: 0.025, early: 14, late: 120, few: 4, many: 16},
		{name: "wet, hygrometer right", wet: 0.91, top: 0.96, bias: 0.004, early: 14, late: 120, few: 4, many: 16},
		{name: "closing rind", wet: 0.76, top: 0.90, bias: 0.02, early: 25, late: 160, few: 4, many: 16, closing: true},
		{name: "growing rind", wet: 0.78, top: 0.92, bias: 0.02, early: 30, late: 200, few: 4, many: 20, growing: true},
	}
}

// grown is a made-up wheel: what the book knows of it, and what became of it.
type grown struct {
	subject Subject
	now     float64   // day of the last weighing
	days    []float64 // ends of the truth's steps
	loss    []float64 // true loss of the true green weight
	green   float64   // true, g
	scale   scale
	passes  float64 // share of the bare flux that the coat passes
}

// scale is a scale and the hand that uses it.
type scale struct{ step, hand float64 } // g

func (s scale) read(r *rand.Rand, grams float64) float64 {
	return math.Round((grams+s.hand*r.NormFloat64())/s.step) * s.step
}

// sd is what the book takes a weighing's standard deviation to be, g.
func (s scale) sd(grams float64) float64 {
	return math.Max(leastNoise, math.Hypot(s.step/math.Sqrt(12), 0.0005*grams))
}

const leastNoise = 0.5 // g

// at is the true loss on a day.
func (g grown) at(day float64) float64 {
	for i, d := range g.days {
		if d >= day {
			if i == 0 {
				return g.loss[0] * day / d
			}
			f := (day - g.days[i-1]) / (d - g.days[i-1])
			return g.loss[i-1] + f*(g.loss[i]-g.loss[i-1])
		}
	}
	return g.loss[len(g.loss)-1]
}

// reaches is the first day the true loss is at a target, +Inf past the end.
func (g grown) reaches(target float64) float64 {
	for i, l := range g.loss {
		if l >= target {
			if i == 0 {
				return g.days[0] * target / l
			}
			f := (target - g.loss[i-1]) / (l - g.loss[i-1])
			return g.days[i-1] + f*(g.days[i]-g.days[i-1])
		}
	}
	return math.Inf(1)
}

// room is the air of a lot, hour by hour: as it is and as the book has it.
type room struct{ real, book []Span }

// walk is a variable that comes back to 0 with a time constant.
type walk struct{ x, sd, days float64 }

func (w *walk) step(r *rand.Rand, dt float64) float64 {
	k := math.Exp(-dt / w.days)
	w.x = w.x*k + w.sd*math.Sqrt(1-k*k)*r.NormFloat64()
	return w.x
}

func newRoom(r *rand.Rand, g regime, days int) room {
	rh, temp := g.wet+(g.top-g.wet)*r.Float64(), 8+7*r.Float64()
	weather, season := walk{sd: 0.004 + 0.012*r.Float64(), days: 4}, walk{sd: 0.018 * r.Float64(), days: 45}
	heat := walk{sd: 0.5, days: 5}
	swing, doors := 0.012*r.Float64(), 0.02*r.Float64()
	bias, drift := g.bias*r.NormFloat64(), g.bias*0.3*r.NormFloat64()/100
	setpoint := rh + 0.02*r.NormFloat64()
	mv := air.Movements()[r.IntN(3)]
	var out room
	silent := 0
	var last air.State
	for h := range days * 24 {
		day := float64(h) / 24
		x := rh + weather.step(r, 1.0/24) + season.step(r, 1.0/24) + swing*math.Sin(2*math.Pi*day)
		t := temp + heat.step(r, 1.0/24) + 0.7*math.Sin(2*math.Pi*(day+0.4))
		if h%8 == 0 { // the coil is defrosted
			x += 0.03
		}
		if h%24 > 7 && h%24 < 17 {
			x -= doors * r.Float64()
		}
		clip := func(x float64) quantity.Fraction { return quantity.Fraction(math.Min(0.995, math.Max(0.4, x))) }
		s := Span{FromDay: day, Movement: mv, Air: air.State{Temp: quantity.Celsius(t), RH: clip(x)}}
		out.real = append(out.real, s)
		if silent--; silent < -24 && r.Float64() < 0.0005 {
			silent = 12 + r.IntN(24*8)
		}
		switch {
		case silent <= 0:
			s.Air.RH = clip(x + bias + drift*day + 0.005*r.NormFloat64())
			s.Air.Temp += quantity.Celsius(0.3 * r.NormFloat64())
			last = s.Air
		case h > 0 && silent > 0: // what verdict.Spans makes of a gap is near to this
			s.Air = last
			if silent < 24*6 {
				s.Air = air.State{Temp: quantity.Celsius(temp), RH: clip(setpoint)}
			}
		}
		out.book = append(out.book, s)
	}
	return out
}

// until is what the book has of the air up to a day, the mean of the last week
// carried on.
func (m room) until(day float64) []Span {
	n := min(int(day*24)+1, len(m.book))
	known := append([]Span(nil), m.book[:n]...)
	week := known[max(0, n-168):]
	mean := Span{FromDay: day, Movement: known[0].Movement}
	for _, s := range week {
		mean.Air.RH += s.Air.RH / quantity.Fraction(len(week))
		mean.Air.Temp += s.Air.Temp / quantity.Celsius(len(week))
	}
	return append(known, mean)
}

// ahead is how far the truth goes on after the last weighing, days.
const truthAhead = 92

// lot grows sisters in one room.
func (g regime) lot(r *rand.Rand, f family, wheels int) []grown {
	m := newRoom(r, g, int(g.late)+truthAhead+2)
	groups := []Group{VeryHard, Hard, Hard, SemiHard, SemiHard, WashedRind}
	if g.coat == Wax {
		groups = []Group{Hard, Hard, SemiHard}
	}
	l := litter{
		regime: g, room: m, family: f, group: groups[r.IntN(len(groups))],
		kg:    math.Exp(math.Log(0.6) + r.Float64()*math.Log(40)),
		air:   0.35*r.NormFloat64() + 0.5*math.Log(0.85+0.15*r.Float64()),
		slow:  0.30 * r.NormFloat64(),
		bend:  r.Float64(),
		rind:  0.006 * r.NormFloat64(),
		salt:  math.Exp(0.12 * r.NormFloat64()),
		water: 0.012 * r.NormFloat64(),
		shuts: 0.15 + 0.45*r.Float64(), shutting: 15 + 45*r.Float64(),
		ages: 0.65 + 0.6*r.Float64(),
		last: g.early * math.Pow(g.late/g.early, r.Float64()),
		n:    g.few + r.IntN(g.many-g.few+1),
		mv:   m.real[0].Movement,
	}
	if l.group == WashedRind {
		l.kg = 0.4 + 2*r.Float64()
	}
	steps := []float64{1, 2, 5}
	if l.kg > 5 {
		steps = []float64{5, 10, 20, 50}
	}
	for l.scale.step = math.Inf(1); l.scale.step > 0.006*1000*l.kg; {
		l.scale.step = steps[r.IntN(len(steps))]
		if steps[0] > 0.006*1000*l.kg {
			l.scale.step = steps[0]
			break
		}
	}
	l.binds, l.ripens = math.Exp(0.1+0.15*r.NormFloat64()), 0.25*r.Float64()
	if g.growing {
		l.thick, l.thickens = math.Exp(math.Log(2)+r.Float64()*math.Log(5)), 12+40*r.Float64()
		l.spent = 0.04 + 0.08*r.Float64()
	}
	l.scale.hand = math.Max(0.3, (0.0002+0.0006*r.Float64())*1000*l.kg)
	out := make([]grown, wheels)
	for i := range out {
		out[i] = l.wheel(r)
	}
	return out
}

// litter is what sisters share.
type litter struct {
	regime
	room            room
	family          family
	group           Group
	kg              float64
	air, slow       float64 // logs of the air side and of the root of the diffusivity
	bend            float64 // how much the diffusivity depends on the content
	rind            float64 // water activity of the rind over the law's
	salt, water     float64 // how far composition is off what the book says
	ages            float64 // what becomes of any rind's diffusivity by the months, as a factor
	shuts, shutting float64 // what is left of a closed rind's diffusivity, and days to half of that
	binds, ripens   float64 // what lowers the water activity over the law's, and how much more when it's old
	thick           float64 // the resistance of the surface of an old rind over a young one's
	thickens        float64 // and the days it takes, by the family's law
	spent           float64 // or the loss by which it has grown
	last            float64
	n               int
	scale           scale
	mv              air.Movement
}

// crust is a face whose rind has a water activity off the law's.
type crust struct {
	face
	off float64
	old float64 // factor on what lowers the water activity
}

func (c *crust) Flux(x float64) (float64, float64) {
	f := c.face
	f.vapour -= c.off * f.psat
	f.law.molality *= c.old
	f.law.protein *= c.old
	return f.Flux(x)
}

// inside is the factor on the diffusivity at a content and an age.
func (l litter) inside(x, x0, day float64) float64 {
	u := math.Max(x, 0.02) / x0
	v := 1.0
	switch l.family {
	case power:
		v = math.Pow(u, 1.5*l.bend)
	case steep:
		v = math.Exp(-2.5 * l.bend * (1 - u))
	case skinning:
		v = 0.12 + 0.88/(1+math.Exp((0.55+0.25*l.bend-u)/0.06))
	case salted:
		v = math.Max(0.15, 1-l.bend*(1-u))
	}
	v *= 1 + (l.ages-1)*(1-math.Exp(-day/40))
	if l.closing && u < 0.9 {
		s := math.Pow(day/l.shutting, 2)
		v *= (1 + l.shuts*s) / (1 + s)
	}
	return v
}

// ripening is how long it takes ripening to lower the water activity, days. An old
// grating cheese of 30 % water has an activity of about 0.92 (from memory), where the law
// has 0.95.
const ripening = 90

// hindered is the surface's resistance over that of a young rind, by the family: it grows
// as an exponential that comes to rest, with the loss, as a power of time, or slowly at
// first and at last.
func (l litter) hindered(day, loss float64) float64 {
	switch {
	case !l.growing:
		return 1
	case l.family == power:
		return 1 + (l.thick-1)*-math.Expm1(-day/l.thickens)
	case l.family == steep:
		return 1 + (l.thick-1)*math.Min(1, math.Max(0, loss)/l.spent)
	case l.family == salted:
		return 1 + (l.thick-1)/(1+math.Exp(2*(1.5-day/l.thickens)))
	}
	young := l.thickens / 6
	return math.Pow(1+day/young, math.Log(l.thick)/math.Log(1+100/young))
}

// diffusivity of the made-up cheeses, m2/s at 12 C: geometric middle of what was
// measured (7.8e-12 to 3.7e-11), a little under for the soft.
var madeUpDiffusivity = map[Group]float64{VeryHard: 0.9e-11, Hard: 1.4e-11, SemiHard: 1.6e-11, WashedRind: 1.2e-11}

// wheel grows one.
func (l litter) wheel(r *rand.Rand) grown {
	kg := l.kg * math.Exp(0.03*r.NormFloat64())
	d := defaultsOf(l.group)
	told := Cheese{Green: quantity.Grams(1000 * kg), Group: l.group,
		Moisture: quantity.Fraction(d.moisture + l.water/2), MoistureSD: 0.012}.filled()
	real := told
	real.Moisture += quantity.Fraction(l.water + 0.004*r.NormFloat64())
	real.Salt *= quantity.Fraction(l.salt)
	end := l.last + truthAhead
	out := grown{now: l.last, green: 1000 * kg, scale: l.scale}

	coatAt := math.Inf(1)
	if l.coat != "" {
		coatAt = 4 + 6*r.Float64()
		out.passes = 0.3 * r.Float64()
		if r.Float64() < l.leaks {
			out.passes = 0.5 + 0.5*r.Float64()
		}
	}
	w := l.windows(end, coatAt)
	p := newPlant(real, w, madeUpDiffusivity[l.group], 0)
	body := bodyOf(real, p.x0, volume.Coarse)
	uneven := 0.05 * r.NormFloat64()
	body.Fill(func(at []float64) float64 {
		s := 0.0
		for _, a := range at {
			s += a * a
		}
		return p.x0 * (1 + uneven*(s/float64(len(at))-0.4))
	})
	start := body.Mean()
	la, lb := l.air+0.15*r.NormFloat64(), l.slow+0.12*r.NormFloat64()+0.2*l.bend
	gust, spell := walk{sd: 0.18, days: 5}, walk{sd: 0.15, days: 40}
	day, bare := 0.0, 0.0
	body.Vary = func(x float64) float64 { return l.inside(x, p.x0, day) }
	for i, x := range w {
		day = x.from
		f := crust{p.face(i, math.Exp(la+gust.step(r, x.to-x.from)+spell.step(r, x.to-x.from)), 1),
			l.rind + 0.002*r.NormFloat64(), l.binds * (1 + l.ripens*-math.Expm1(-day/ripening))}
		switch l.family {
		case skinning:
			f.off -= 0.01 * math.Min(1, day/60)
		case salted: // a salt gradient evens out in weeks
			f.off -= (0.01 + 0.02*l.bend) * math.Exp(-day/25)
		}
		f.resist *= l.hindered(day, (1-float64(real.Moisture))*(start-body.Mean()))
		if day >= coatAt-1e-9 { // the coat passes its share of what the wheel would lose bare
			if bare == 0 {
				bare = out.bareResistance(&f, p, body)
			}
			f.resist += bare * (1 - out.passes) / math.Max(out.passes, 1e-3)
		}
		body.Step((x.to-x.from)*86400, p.diffusivity(i)/86400*math.Exp(2*lb), &f)
		out.days = append(out.days, x.to)
		out.loss = append(out.loss, (1-float64(real.Moisture))*(start-body.Mean()))
	}
	l.weigh(r, &out, told, coatAt)
	return out
}

// bareResistance is all that stands in the way of a bare wheel's water in the
// weeks after the coat, Pa m2 s/kg: the drive over half the flux of that day.
func (g *grown) bareResistance(f *crust, p *plant, body *volume.Body) float64 {
	n := len(g.loss)
	back := max(0, n-4)
	rate := (g.loss[n-1] - g.loss[back]) / (g.days[n-1] - g.days[back]) / p.area / 86400
	drive := p.law.activity(body.Mean())*f.psat - f.vapour
	if !(rate > 0) || !(drive > 0) {
		return usualHalf
	}
	return drive / (0.4 * rate)
}

// windows cuts the room into the truth's steps: a quarter of a day and less,
// half a day after the first weeks.
func (l litter) windows(end, coatAt float64) []window {
	var w []window
	k := 0
	for t := 0.0; t < end; {
		to := t + math.Min(0.05+0.2*t, 1.0/3+math.Min(t/100, 0.2))
		if t < coatAt && to > coatAt {
			to = coatAt
		}
		x := window{from: t, to: to}
		for k+1 < len(l.room.real) && l.room.real[k+1].FromDay <= t {
			k++
		}
		x.average(l.room.real, k)
		w = append(w, x)
		t = to
	}
	return w
}

// weigh makes the book of a wheel.
func (l litter) weigh(r *rand.Rand, out *grown, told Cheese, coatAt float64) {
	grams := func(day float64) float64 { return out.green * (1 - out.at(day)) }
	green := l.scale.read(r, out.green)
	told.Green = quantity.Grams(green)
	s := Subject{Cheese: told, Air: l.room.until(l.last)}
	var at []float64
	bend := 0.7 + 0.6*r.Float64()
	for i := range l.n {
		d := l.last * math.Pow(float64(i+1)/float64(l.n), bend)
		if i+1 < l.n {
			d += 0.3 * (r.Float64() - 0.5)
		}
		at = append(at, math.Max(0.3, math.Min(d, l.last)))
	}
	if l.every > 0 {
		at = []float64{coatAt / 2}
		for i := range int(l.after) {
			at = append(at, coatAt+l.every*float64(i+1))
		}
	}
	tare, coated := 0.0, false
	point := func(d, g float64) {
		s.Points = append(s.Points, Point{Day: d, Loss: quantity.Fraction(1 - g/green),
			SD: quantity.Fraction(l.scale.sd(g) / green)})
	}
	wax := 0.02 * out.green * (0.5 + r.Float64())
	for _, d := range at {
		if d > coatAt && !coated {
			coated = true
			before := l.scale.read(r, grams(coatAt))
			after := l.scale.read(r, grams(coatAt)+wax)
			point(coatAt, before)
			tare = after - before
			s.Coats = append(s.Coats, l.coatOn(coatAt, before, after, green))
		}
		g := grams(d)
		if coated {
			g += wax
		}
		point(d, l.scale.read(r, g)-tare)
	}
	out.now = s.Points[len(s.Points)-1].Day
	out.subject = s
}

// coatOn is a coat weighed before and after on the wheel's scale.
func (l litter) coatOn(day, before, after, green float64) CoatOn {
	return CoatOn{Day: day, Coat: l.coat, Loss: quantity.Fraction(1 - before/green),
		SD: quantity.Fraction(l.scale.sd(after) / green)}
}
