package drying

import (
	"math"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
)

// plant is the physics of one wheel in its air, ready to be run: everything
// that does not change while the multipliers do.
//
// The content of the surface is taken as one all over; the mean content follows
// it by the modes of the body, and the surface law closes the balance at every
// step. Changing air, coats and the finite body come out of the one solution.
type plant struct {
	windows []window
	states  []air.State
	sites   []site
	x0      float64
	law     sorption
	dry     float64 // dry solids, fraction of green weight
	density float64 // dry solids per volume, kg/m3
	area    float64 // m2 per kg of green weight
	ratio   float64 // surface to volume, 1/m
	modes   modes
}

// newPlant prepares a filled cheese. diff12 and transfer pin the diffusivity at
// 12 C (m2/s) and the mass transfer coefficient (kg/(m2 s Pa)); 0 takes the
// group's and the movement's.
func newPlant(c Cheese, w []window, diff12, transfer float64) *plant {
	x0, saltDry, protein := c.dry()
	v := c.Shape.Volume()
	if !(diff12 > 0) {
		diff12 = defaultsOf(c.Group).diffusivity
	}
	p := &plant{
		windows: w, x0: x0, law: sorptionOf(saltDry, protein),
		dry:     1 - float64(c.Moisture),
		density: (1 - float64(c.Moisture)) * c.Green.Kilograms() / v,
		area:    c.Shape.Surface() / c.Green.Kilograms(),
		ratio:   c.Shape.Surface() / v,
		modes:   modesOf(c.Shape),
	}
	p.states, p.sites = make([]air.State, len(w)), make([]site, len(w))
	for i := range w {
		if i > 0 && w[i].sameAir(&w[i-1]) {
			p.states[i], p.sites[i] = p.states[i-1], p.sites[i-1]
			continue
		}
		p.states[i] = w[i].state()
		p.sites[i] = siteOf(p.states[i], w[i].convection, transfer)
		p.sites[i].diffusivity = diffusivityAt(diff12, p.states[i].Temp) * 86400
	}
	return p
}

// first is the plant over its first n windows.
func (p *plant) first(n int) *plant {
	q := *p
	q.windows, q.states, q.sites = p.windows[:n], p.states[:n], p.sites[:n]
	return &q
}

// face is the surface in window i, with multipliers of the air side and of the
// coats' resistance.
func (p *plant) face(i int, ka, kc float64) face {
	coat := 0.0
	if p.windows[i].coat > 0 {
		coat = kc * p.windows[i].coat
	}
	return p.sites[i].face(p.law, p.density, ka, coat)
}

// wettest is the relative humidity past which no air is taken to be damper, as
// no hygrometer tells such air from wet, and the tables of losses need a bound.
// Our calibration, by TestIntervalsHold: worlds up to 97 % are held.
const wettest = 0.985

// dampen makes the air of a site damper by a fraction of RH, and says whether
// it still answers to it.
func (f *face) dampen(by float64) bool {
	f.vapour += by * f.psat
	if most := wettest * f.psat; f.vapour > most {
		f.vapour = most
		return false
	}
	return true
}

// diffusivity in window i, m2/day.
func (p *plant) diffusivity(i int) float64 { return p.sites[i].diffusivity }

// fade is what one multiplier of the inside makes of the modes over every window: how much
// of a mode is left, and what a unit rise of the mean adds. Only the live modes are there.
type fade struct {
	left, adds []float64
	depth      []float64 // D t of each window, m2
}

func (p *plant) fades(th *vec) fade { return p.fadesIn(nil, th) }

// closes is how far a rind that closes has come in the middle of a window: the
// log of its age in closeDays and one more.
func (w *window) closes() float64 { return math.Log1p((w.from + w.to) / 2 / closeDays) }

// closeDays is the age at which a closing rind begins to count, days. Our
// calibration: TestIntervalsHold.
const closeDays = 30

// gone is where a mode has faded, by exp(-gone), and slow is where the exponential is taken
// by its series, to 1e-13: our choice.
const gone, slow = 40, 0.03

// live is how many modes aren't gone after a window of a depth, sought from a number of them.
// Rates rise.
func (m *modes) live(depth float64, from int) int {
	for from > 0 && m.rate[from-1]*depth >= gone {
		from--
	}
	for from < len(m.rate) && m.rate[from]*depth < gone {
		from++
	}
	return from
}

// fadesIn is fades with room to work in, where there is enough of it.
func (p *plant) fadesIn(buf []float64, th *vec) fade {
	n := len(p.modes.rate)
	if size := (2*n + 1) * len(p.windows); cap(buf) >= size {
		buf = buf[:size]
	} else {
		buf = make([]float64, size)
	}
	f := fade{buf[:n*len(p.windows)], buf[n*len(p.windows) : 2*n*len(p.windows)], buf[2*n*len(p.windows):]}
	kb := math.Exp(2 * th[kInside])
	live := n
	for i := range p.windows {
		w := &p.windows[i]
		d := p.diffusivity(i) * kb * (w.to - w.from)
		if th[kClose] != 0 {
			d *= math.Exp(-2 * th[kClose] * w.closes())
		}
		f.depth[i] = d
		live = p.modes.live(d, live)
		left, adds := f.left[i*n:i*n+live], f.adds[i*n:i*n+live]
		if i > 0 && math.Abs(d/f.depth[i-1]-1) < 1e-9 {
			copy(left, f.left[(i-1)*n:])
			copy(adds, f.adds[(i-1)*n:])
			continue
		}
		rate, thick := p.modes.rate[:live], p.modes.thick[:live]
		per := 1 / d
		for k, r := range rate {
			if x := r * d; x < slow {
				adds[k] = 1 - x*(1.0/2)*(1-x*(1.0/3)*(1-x*(1.0/4)*(1-x*(1.0/5)*(1-x*(1.0/6)))))
				left[k] = 1 - x*adds[k]
			} else {
				left[k] = math.Exp(-x)
				adds[k] = (1 - left[k]) * thick[k] * per
			}
		}
	}
	return f
}

// run fills out[i] with the loss at the end of window i for the logs of the
// multipliers of the air side, of the inside (the root of the diffusivity) and
// of the coats' resistance.
func (p *plant) run(la, lb, lc float64, out []float64) {
	th := vec{kAir: la, kInside: lb}
	p.march(&th, lc, p.fades(&th), out, nil)
}

// march steps through the windows. Within a window the flux is held at its end
// value: first order in the step, which the windows keep short. A dry rind in
// damp air takes water back, so loss may run backwards, and under 0. slope, a
// row of len(out) for each unknown in play and none for the others, is filled
// with the derivatives of the loss, carried along step by step; that of the
// coats' share is by the log of their resistance.
func (p *plant) march(th *vec, lc float64, fd fade, out []float64, slope *[bends][]float64) {
	ka, kc := math.Exp(th[kAir]), math.Exp(lc)
	n := len(p.modes.rate)
	var run, shows, deeper [maxModes]float64 // run: the modes
	st := stride{aw0: p.law.activity(p.x0)}
	var leans [bends]lean
	at := settled{x: p.x0}
	mean, even, live := 0.0, edgeShare, n
	for i := range p.windows {
		w := &p.windows[i]
		st.face = p.face(i, ka, kc)
		answers := st.dampen(th[kDamp])
		depth := fd.depth[i]
		was := live
		live = p.modes.live(depth, was)
		if live > was { // what the window before left of modes that are back
			by := &p.modes
			by.back(run[was:live], was, st.dm/fd.depth[i-1])
			for k := range slope {
				by.back(leans[k].run[was:live], was, leans[k].gone/fd.depth[i-1])
			}
		}
		st.left, st.adds = fd.left[i*n:i*n+live], fd.adds[i*n:i*n+live]
		st.held, st.deeper = shows[:live], deeper[:live]
		gain, edge, rate := p.modes.gain[:live], p.modes.edge[:live], p.modes.rate[:live]
		// Surface deficit = rest + up dm, dm the mean's rise in the window.
		edgeUp := p.modes.edgeGone[live] / depth
		goneUp := p.modes.gainGone[live]/depth + even*edgeUp
		rest, up := mean, 1+goneUp
		var edgeRest, innerRest, innerUp float64
		for k, l := range st.left {
			g, a, r := gain[k]+even*edge[k], st.adds[k], run[k]
			h := g * l
			st.held[k] = h
			up += g * a
			rest += h * r
			edgeUp += edge[k] * a
			edgeRest += edge[k] * l * r
			innerUp += g * (l - a)
			innerRest += h * r * rate[k]
		}
		st.edgeRest, st.edgeUp, st.innerRest, st.innerUp = edgeRest, edgeUp, 2*innerRest*depth, 2*(innerUp-goneUp)
		st.up, st.m = up, p.ratio*(w.to-w.from)*86400
		p.surface(&st.face, rest, up, st.m, &at)
		st.flux = at.flux
		st.even()
		st.dm = st.m * st.flux
		dm := st.dm
		if slope != nil {
			for k, l := range st.left {
				st.deeper[k] = 2 * (dm*(l-st.adds[k]) - rate[k]*depth*l*run[k])
			}
			st.partial = st.partials(at.x, st.flux)
			for k := range slope {
				if slope[k] != nil {
					leans[k].follow(&st, p.pull(k, i, &st, ka, kc, answers))
					slope[k][i] = leans[k].mean * p.dry
				}
			}
		}
		if st.wet > 0 {
			even = edgeShare * math.Max(0, math.Min(1, st.share))
		}
		for k, l := range st.left {
			run[k] = run[k]*l + dm*st.adds[k]
		}
		mean += dm
		if out[i] = mean * p.dry; out[i] > 1-p.dry {
			out[i] = 1 - p.dry
			for k := range bends {
				if slope != nil && slope[k] != nil {
					slope[k][i] = 0
				}
			}
		}
	}
}

// stride is one window of a run, as its derivatives need it.
type stride struct {
	face
	aw0                float64 // water activity of a fresh surface
	m, up              float64 // the mean's rise for a unit of flux, the surface's for one of the mean
	flux, wet, share   float64 // the flux, that of a wet surface, and the share of it
	dm                 float64 // the mean's rise
	partial            partials
	edgeRest, edgeUp   float64 // what the edge's share does to the surface's deficit
	innerRest, innerUp float64 // and what a deeper inside does
	// Of each live mode: what is left, what a rise adds, what shows at the surface, what a
	// deeper inside adds.
	left, adds, held, deeper []float64
}

// even sets the flux of a wet surface and the share of it that leaves.
func (s *stride) even() {
	s.wet, s.share = (s.aw0*s.psat-s.vapour)/(s.resist+s.aw0*s.psat*s.cool)/s.solids, 1
	if s.wet > 0 {
		s.share = s.flux / s.wet
	}
}

// pull is what an unknown does to the surface with its content held, and to the log of
// the inside.
type pull struct{ resist, cool, vapour, inside float64 }

// pull is that of an unknown in a window.
func (p *plant) pull(k, window int, s *stride, ka, kc float64, answers bool) (q pull) {
	w := &p.windows[window]
	switch k {
	case kAir:
		at := &p.sites[window]
		h := at.convection * ka
		q.resist, q.cool = -1/(at.transfer*ka), -s.cool*h/(h+at.radiance)
	case kInside:
		q.inside = 1
	case kDamp:
		if answers {
			q.vapour = s.psat
		}
	case kShare:
		q.resist = kc * w.coat
	case kClose:
		q.inside = -w.closes()
	}
	return q
}

// lean is the derivative of a run by one unknown: of the modes, the mean and the edge's
// share.
type lean struct {
	run        [maxModes]float64
	mean, even float64
	gone       float64 // what the last window left of a mode that was gone, but for its rate and depth
}

// follow takes it through a window.
func (b *lean) follow(s *stride, q pull) {
	run := b.run[:len(s.held)]
	rest := b.mean + b.even*s.edgeRest - q.inside*s.innerRest
	for k, h := range s.held {
		rest += h * run[k]
	}
	up := b.even*s.edgeUp + q.inside*s.innerUp
	by := &s.partial
	dg := by.resist*q.resist + by.cool*q.cool + by.vapour*q.vapour
	dg -= by.content * (rest + up*s.m*s.flux + s.up*s.m*dg) / (1 + s.up*s.m*by.content)
	add := s.m * dg
	b.mean += add
	b.gone = add - 2*q.inside*s.dm
	adds := s.adds[:len(run)]
	for k, l := range s.left[:len(run)] {
		run[k] = run[k]*l + add*adds[k]
	}
	if q.inside != 0 {
		for k, x := range s.deeper[:len(run)] {
			run[k] += q.inside * x
		}
	}
	if s.wet > 0 {
		b.even = 0
		if s.share > 0 && s.share < 1 {
			dwet := -(s.wet*(q.resist+s.aw0*s.psat*q.cool) + q.vapour/s.solids) / (s.resist + s.aw0*s.psat*s.cool)
			b.even = edgeShare * (dg - s.share*dwet) / s.wet
		}
	}
}

// edgeShare is how far a wet surface is taken towards one flux all over. Our
// calibration, by finite volumes: TestTheForwardModelKeepsToTheFiniteVolumesOverAYear.
const edgeShare = 0.75

// maxModes bounds the modes of any body: our choice; the bins keep them under 40.
const maxModes = 96

// settled is a surface at the end of a window: its content, the flux there, and the flux's
// slope by the content, in the face that it was solved for.
type settled struct {
	face           face
	x, flux, slope float64
}

// surface solves x = x0 - rest - up m flux(x) for the surface content, from that of the window
// before, and gives the flux there. Its bounds and rounds are our choice; past its last step,
// which it follows along the slope, Newton's method is off by the square of that.
func (p *plant) surface(f *face, rest, up, m float64, at *settled) {
	lo, hi := 1e-6, 3*p.x0
	x := at.x
	if *f == at.face { // its flux there is known: the first step costs nothing
		x += (p.x0 - rest - up*m*at.flux - x) / (1 + up*m*at.slope)
	}
	at.face = *f
	x = math.Min(math.Max(x, lo*2), hi)
	for range 40 {
		g, dg := f.Flux(x)
		e := p.x0 - rest - up*m*g - x
		if e > 0 {
			lo = x
		} else {
			hi = x
		}
		step := e / (1 + up*m*dg)
		next := x + step
		if !(next >= lo && next <= hi) {
			next = (lo + hi) / 2
			step = next - x
		}
		if math.Abs(step) < 1e-4 {
			at.x, at.flux, at.slope = next, g+dg*step, dg
			return
		}
		x = next
	}
	at.x = x
	at.flux, at.slope = f.Flux(x)
}

// wetRate is what a surface as wet as the fresh wheel's would lose bare in
// window i, fraction of green weight per day.
func (p *plant) wetRate(i int, th *vec) float64 {
	f := p.face(i, math.Exp(th[kAir]), 0)
	f.dampen(th[kDamp])
	return math.Max(0, f.wet(p.x0)) * p.area * 86400
}

// rootRate is what the inside alone would let go with its surface in balance
// with the air of window i, fraction of green weight per square root of a day.
func (p *plant) rootRate(i int, kb float64) float64 {
	drive := math.Max(0, p.x0-p.balance(i))
	return p.dry * drive * p.ratio * 2 * math.Sqrt(p.diffusivity(i)/math.Pi) * kb
}

// answer is how the loss of a settled wheel answers to air that turns damper by
// a unit of RH and stays so: its first-day and root-time rates (see Curve), and
// the most it comes to, all as fractions of green weight. Near balance the
// surface law is taken as a straight line.
type answer struct{ first, root, most float64 }

// answer is the answer from window i on. A rind that is all but dry is taken at a
// fiftieth of its first water: our choice.
func (p *plant) answer(i int, th *vec, lc float64) answer {
	f := p.face(i, math.Exp(th[kAir]), math.Exp(lc))
	f.dampen(th[kDamp])
	x := math.Min(p.x0, math.Max(p.law.balance(f.vapour/f.psat), 0.02*p.x0))
	ln, dln := p.law.lnActivity(x)
	aw := math.Exp(ln)
	holds := p.dry / (aw * dln)
	return answer{
		first: f.psat / (f.resist + aw*f.psat*f.cool) * p.area * 86400,
		root: holds * p.ratio * 2 * math.Sqrt(p.diffusivity(i)/math.Pi) *
			math.Exp(th[kInside]-th[kClose]*p.windows[i].closes()),
		most: holds,
	}
}

// after is the answer some days on.
func (a answer) after(days float64) float64 { return math.Min(Curve(a.first, a.root, days), a.most) }

// balance is the content in balance with the air of window i, never over the
// start.
func (p *plant) balance(i int) float64 {
	return math.Min(p.x0, p.law.balance(float64(p.states[i].RH)))
}

// biotSpeed is the solid-side transfer that the linear law has in window i, m/s:
// the wet flux over the whole drive.
func (p *plant) biotSpeed(i int) float64 {
	drive := p.x0 - p.balance(i)
	if drive <= 0 {
		return 0
	}
	f := p.face(i, 1, 0)
	return f.wet(p.x0) / p.density / drive
}

// fraction is X as wet-basis moisture.
func fraction(x float64) quantity.Fraction { return quantity.Fraction(x / (1 + x)) }
