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

// fade is what one multiplier of the inside makes of the modes over every
// window: how much of a mode is left, and what a unit rise of the mean adds.
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

// fadesIn is fades with room to work in, where there is enough of it. A mode that has
// faded by exp(-40) is gone: our choice.
func (p *plant) fadesIn(buf []float64, th *vec) fade {
	n := len(p.modes.rate)
	if size := (2*n + 1) * len(p.windows); cap(buf) >= size {
		buf = buf[:size]
	} else {
		buf = make([]float64, size)
	}
	f := fade{buf[:n*len(p.windows)], buf[n*len(p.windows) : 2*n*len(p.windows)], buf[2*n*len(p.windows):]}
	kb := math.Exp(2 * th[kInside])
	for i, w := range p.windows {
		d := p.diffusivity(i) * kb * (w.to - w.from)
		if th[kClose] != 0 {
			d *= math.Exp(-2 * th[kClose] * w.closes())
		}
		f.depth[i] = d
		left, adds := f.left[i*n:(i+1)*n], f.adds[i*n:(i+1)*n]
		if i > 0 && math.Abs(d/f.depth[i-1]-1) < 1e-9 {
			copy(left, f.left[(i-1)*n:i*n])
			copy(adds, f.adds[(i-1)*n:i*n])
			continue
		}
		for k, r := range p.modes.rate {
			x := r * d
			e := 0.0
			if x < 40 {
				e = math.Exp(-x)
			}
			left[k], adds[k] = e, (1-e)/x
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
	gain, edge, rate := p.modes.gain[:n], p.modes.edge[:n], p.modes.rate[:n]
	var run, held [maxModes]float64   // the modes' state, and what of each shows at the surface
	var drun [maxModes][bends]float64 // and the state's derivatives
	var dmean, deven [bends]float64
	ln0, _ := p.law.lnActivity(p.x0)
	aw0 := math.Exp(ln0)
	xs, mean, even := p.x0, 0.0, edgeShare
	for i := range p.windows {
		w := &p.windows[i]
		f := p.face(i, ka, kc)
		answers := f.dampen(th[kDamp])
		left, adds, depth := fd.left[i*n:(i+1)*n], fd.adds[i*n:(i+1)*n], fd.depth[i]
		// Surface deficit = rest + up dm, dm the mean's rise in the window.
		rest, up := mean, 1.0
		var edgeRest, edgeUp, innerRest, innerUp float64 // what the edge's share and the inside do to the two
		for k, l := range left {
			g, a, r := gain[k]+even*edge[k], adds[k], run[k]
			h := g * l
			held[k] = h
			up += g * a
			rest += h * r
			edgeUp += edge[k] * a
			edgeRest += edge[k] * l * r
			innerUp += g * (l - a)
			innerRest += h * r * rate[k]
		}
		innerUp, innerRest = 2*innerUp, 2*innerRest*depth
		m := p.ratio * (w.to - w.from) * 86400
		var g float64
		xs, g = p.surface(&f, rest, up, m, xs)
		wet := (aw0*f.psat - f.vapour) / (f.resist + aw0*f.psat*f.cool) / f.solids
		share := 1.0
		if wet > 0 {
			share = g / wet
		}
		dm := m * g
		if slope != nil {
			gx, gr, gc, ge := f.partials(xs, g)
			shown := shownOf(held[:n], &drun)
			var adding, inner [bends]float64
			for s := range slope {
				if slope[s] == nil {
					continue
				}
				// What the unknown does to the surface with its content held,
				// and to the log of the inside.
				var dr, dc, de float64
				switch s {
				case kAir:
					h := p.sites[i].convection * ka
					dr, dc = -1/(p.sites[i].transfer*ka), -f.cool*h/(h+p.sites[i].radiance)
				case kInside:
					inner[s] = 1
				case kDamp:
					if answers {
						de = f.psat
					}
				case kShare:
					dr = kc * w.coat
				case kClose:
					inner[s] = -w.closes()
				}
				drest := dmean[s] + shown[s] + deven[s]*edgeRest - inner[s]*innerRest
				dup := deven[s]*edgeUp + inner[s]*innerUp
				dg := gr*dr + gc*dc + ge*de
				dx := -(drest + dup*dm + up*m*dg) / (1 + up*m*gx)
				dg += gx * dx
				adding[s] = m * dg
				dmean[s] += m * dg
				slope[s][i] = dmean[s] * p.dry
				if wet > 0 {
					deven[s] = 0
					if share > 0 && share < 1 {
						dwet := -(wet*(dr+aw0*f.psat*dc) + de/f.solids) / (f.resist + aw0*f.psat*f.cool)
						deven[s] = edgeShare * (dg - share*dwet) / wet
					}
				}
			}
			for k, l := range left {
				a, d := adds[k], &drun[k]
				x := 2 * (dm*(l-a) - rate[k]*depth*l*run[k])
				d[kAir] = d[kAir]*l + adding[kAir]*a
				d[kInside] = d[kInside]*l + adding[kInside]*a + inner[kInside]*x
				d[kDamp] = d[kDamp]*l + adding[kDamp]*a
				d[kShare] = d[kShare]*l + adding[kShare]*a
				d[kClose] = d[kClose]*l + adding[kClose]*a + inner[kClose]*x
			}
		}
		if wet > 0 {
			even = edgeShare * math.Max(0, math.Min(1, share))
		}
		for k, l := range left {
			run[k] = run[k]*l + dm*adds[k]
		}
		mean += dm
		if out[i] = mean * p.dry; out[i] > 1-p.dry {
			out[i] = 1 - p.dry
			for s := range slope {
				if slope != nil && slope[s] != nil {
					slope[s][i] = 0
				}
			}
		}
	}
}

// shownOf is what the derivatives of the modes' state show at the surface.
func shownOf(held []float64, drun *[maxModes][bends]float64) (out [bends]float64) {
	var air, inside, damp, share, closing float64
	for k, h := range held {
		d := &drun[k]
		air += h * d[kAir]
		inside += h * d[kInside]
		damp += h * d[kDamp]
		share += h * d[kShare]
		closing += h * d[kClose]
	}
	return [bends]float64{kAir: air, kInside: inside, kDamp: damp, kShare: share, kClose: closing}
}

// edgeShare is how far a wet surface is taken towards one flux all over. Our
// calibration, by finite volumes: TestTheForwardModelKeepsToTheFiniteVolumesOverAYear.
const edgeShare = 0.75

// maxModes bounds the modes of any body: our choice; the bins keep them under 40.
const maxModes = 96

// surface solves x = x0 - rest - up m flux(x) for the surface content, and gives
// the flux there. Its bounds and rounds are our choice.
func (p *plant) surface(f *face, rest, up, m, guess float64) (x, flux float64) {
	lo, hi := 1e-6, 3*p.x0
	x = math.Min(math.Max(guess, lo*2), hi)
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
		if math.Abs(step) < 1e-7 {
			return next, g + dg*step
		}
		x = next
	}
	g, _ := f.Flux(x)
	return x, g
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
