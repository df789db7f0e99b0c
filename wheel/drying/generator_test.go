package drying

import (
	"math"
	"math/rand/v2"
	"strconv"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/wheel/drying/volume"
)

// grown is a made-up wheel: what the model is told, and what became of it. It
// comes out of the finite volumes with much that the model does not know: a
// diffusivity that falls as the cheese dries, water unevenly spread, a
// composition off the one given, a hygrometer that errs, weather to come, air
// that moves now more now less, a scale with steps and a hand that shakes.
type grown struct {
	subject Subject
	now     float64   // day of the last weighing
	days    []float64 // ends of the truth's steps
	loss    []float64 // loss against the recorded green weight
	wrong   []bool    // points keyed wrong
	passes  float64   // share of the bare loss that the coat passes
}

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
	prev, at := 0.0, 0.0
	for i, l := range g.loss {
		if l >= target {
			if l == prev {
				return g.days[i]
			}
			return at + (target-prev)/(l-prev)*(g.days[i]-at)
		}
		prev, at = l, g.days[i]
	}
	return math.Inf(1)
}

// grower settles what wheels have in common.
type grower struct {
	lotAir, lotInside float64
	wrongShare        float64
	weighings         int     // 0: 3 to 20
	group             Group   // empty: any
	kg                float64 // 0: any
	movement          air.Movement
	coat              Coat    // put on between days 4 and 9, where any
	leaking           float64 // share of the coats that leak: they pass 0.7 to 1 of the bare loss, sound ones up to 0.3, of film up to 0.1
	after             int     // 0: any; weighings every 28 days after the coat, as many before as are left
}

// grow makes a wheel.
func (gr grower) grow(r *rand.Rand) grown {
	groups := []Group{Hard, Hard, SemiHard, SemiHard, WashedRind, Bloomy}
	g := groups[r.IntN(len(groups))]
	if gr.group != "" {
		g = gr.group
	}
	d := defaultsOf(g)
	kg := math.Exp(math.Log(0.5) + r.Float64()*math.Log(40))
	if g == Bloomy || g == WashedRind {
		kg = 0.25 + 2*r.Float64()
	}
	if gr.kg > 0 {
		kg = gr.kg * math.Exp(0.03*r.NormFloat64())
	}
	told := Cheese{Green: quantity.Grams(1000 * kg), Group: g, Moisture: quantity.Fraction(d.moisture + 0.01*r.NormFloat64()), MoistureSD: 0.012}.filled()
	told.Green = quantity.Grams(1000 * kg)
	real := told
	real.Moisture += quantity.Fraction(0.012 * r.NormFloat64())
	real.Salt *= quantity.Fraction(math.Exp(0.12 * r.NormFloat64()))

	n := gr.weighings
	if n == 0 {
		n = 3 + r.IntN(18)
	}
	last := math.Exp(math.Log(5) + r.Float64()*math.Log(16)) // 5 to 80 days
	var coats []CoatOn
	passes := 0.0
	if gr.coat != "" {
		coats = []CoatOn{{4 + 5*r.Float64(), gr.coat}}
		last = math.Max(last, coats[0].Day+4)
		if gr.after > 0 {
			last = coats[0].Day + 28*float64(gr.after)
		}
		passes = 0.3 * r.Float64()
		if gr.coat == Film {
			passes /= 3
		}
		if r.Float64() < gr.leaking {
			passes = 0.7 + 0.3*r.Float64()
		}
	}
	days := int(last + 24)
	rh := 0.78 + 0.14*r.Float64()
	temp := 8 + 7*r.Float64()
	spans := hourlyLog(r, days, temp, rh)
	moves := air.Movements()
	mv := moves[r.IntN(3)]
	if gr.movement != "" {
		mv = gr.movement
	}
	for i := range spans {
		spans[i].Movement = mv
	}

	// The truth: steps of a quarter to a third of a day under the hourly air.
	var w []window
	for t := 0.0; t < float64(days)-0.5; {
		step := math.Min(0.05+0.2*t, 1.0/3)
		x := window{from: t, to: t + step}
		k := 0
		for k+1 < len(spans) && spans[k+1].FromDay <= t {
			k++
		}
		x.average(spans, k)
		w = append(w, x)
		t += step
	}
	if gr.coat != "" {
		co := newCourse(told, spans, coats, float64(days), 0, 0)
		for i := range w {
			if w[i].from >= coats[0].Day {
				w[i].coat = co.half * (1 - passes) / math.Max(passes, 1e-3)
			}
		}
	}
	p := newPlant(real, w, 0, 0)
	body := bodyOf(real, p.x0, volume.Coarse)
	uneven := 0.06 * r.NormFloat64()
	body.Fill(func(at []float64) float64 {
		s := 0.0
		for _, a := range at {
			s += a * a
		}
		return p.x0 * (1 + uneven*(s/float64(len(at))-0.4))
	})
	start := body.Mean()
	fall := r.Float64() // power of the diffusivity in the content
	body.Vary = func(x float64) float64 { return math.Pow(math.Max(x, 0.02)/p.x0, fall) }
	la := gr.lotAir + 0.15*r.NormFloat64()
	lb := gr.lotInside + 0.12*r.NormFloat64() + 0.1*fall // the mean effect is in the defaults
	gust := 0.0
	out := grown{now: last}
	for i, x := range w {
		dt := x.to - x.from
		gust += -gust*math.Min(1, dt/5) + 0.15*math.Sqrt(2*dt/5)*r.NormFloat64()
		f := p.face(i, math.Exp(la+gust), 1)
		body.Step(dt*86400, p.diffusivity(i)/86400*math.Exp(2*lb), &f)
		out.days = append(out.days, x.to)
		out.loss = append(out.loss, p.dry*(start-body.Mean()))
	}

	// The weighings.
	steps := []float64{1, 2, 5, 10}
	step := steps[r.IntN(4)]
	for step > 0.006*1000*kg {
		step /= 2
	}
	hand := (0.0002 + 0.0006*r.Float64()) * 1000 * kg
	read := func(loss float64) float64 {
		g := 1000*kg*(1-loss) + hand*r.NormFloat64()
		return math.Round(g/step) * step
	}
	green := read(0)
	for i := range out.loss {
		out.loss[i] = 1 - 1000*kg*(1-out.loss[i])/green
	}
	told.Green = quantity.Grams(green)
	sd := math.Sqrt(step*step/12+hand*hand) / green
	misjudged := math.Exp(0.3 * r.NormFloat64()) // nobody knows their own hand
	sub := Subject{Cheese: told, Coats: coats}
	at := make([]float64, n)
	for i := range at {
		at[i] = last * math.Pow(float64(i+1)/float64(n), 0.8+0.6*r.Float64())
		if i+1 < n {
			at[i] += 0.3 * (r.Float64() - 0.5)
		}
	}
	at[n-1] = last
	for i := range at {
		if k := n - gr.after; gr.after > 0 && i >= k {
			at[i] = coats[0].Day + 28*float64(i-k+1)
		} else if gr.after > 0 {
			at[i] = coats[0].Day * float64(i+1) / float64(k)
		}
		at[i] = math.Max(0.3, math.Min(at[i], last))
		g := read((float64(1000*kg) - green*(1-out.at(at[i]))) / (1000 * kg))
		bad := r.Float64() < gr.wrongShare
		if bad {
			g = slip(r, g)
		}
		out.wrong = append(out.wrong, bad)
		sub.Points = append(sub.Points, Point{Day: at[i], Loss: quantity.Fraction(1 - g/green), SD: quantity.Fraction(sd * misjudged)})
	}

	// What the book knows of the air: a hygrometer that errs, and nothing of
	// what is to come but the last week's mean.
	errRH, errT := 0.015*r.NormFloat64(), 0.3*r.NormFloat64()
	var known []Span
	for _, s := range spans {
		if s.FromDay > last {
			break
		}
		s.Air.RH = quantity.Fraction(math.Min(1, math.Max(0.3, float64(s.Air.RH)+errRH)))
		s.Air.Temp += quantity.Celsius(errT)
		known = append(known, s)
	}
	week := known[max(0, len(known)-168):]
	mean := Span{FromDay: last, Movement: mv}
	for _, s := range week {
		mean.Air.RH += s.Air.RH / quantity.Fraction(len(week))
		mean.Air.Temp += s.Air.Temp / quantity.Celsius(len(week))
	}
	sub.Air = append(known, mean)
	out.subject, out.passes = sub, passes
	return out
}

// slip is a weight keyed wrong: two digits changed about, one digit misread, or
// a sister's weight.
func slip(r *rand.Rand, g float64) float64 {
	digits := []byte(strconv.Itoa(int(math.Round(g))))
	k := r.IntN(len(digits) - 1)
	switch r.IntN(3) {
	case 0:
		digits[k], digits[k+1] = digits[k+1], digits[k]
	case 1:
		digits[k] = '0' + (digits[k]-'0'+byte(1+r.IntN(9)))%10
	default:
		return g * (1 + 0.04*r.NormFloat64())
	}
	v, _ := strconv.Atoi(string(digits))
	return math.Max(1, float64(v))
}
