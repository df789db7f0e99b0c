package volume

import "math"

// Surface is the law by which water leaves a surface.
type Surface interface {
	// Flux is the water leaving at surface content x, over the dry solids per
	// volume, m/s times X, and its slope by x, which must not be negative.
	Flux(x float64) (flux, slope float64)
}

// Linear is the surface law of the textbooks: Flux = Transfer (x - Balance).
type Linear struct {
	Transfer float64 // m/s
	Balance  float64 // X
}

// Flux implements Surface.
func (l Linear) Flux(x float64) (float64, float64) { return l.Transfer * (x - l.Balance), l.Transfer }

// Body is a solid with its water. Make one with Cylinder, Block or Sphere.
type Body struct {
	axes   []axis
	size   []int
	stride []int
	x      []float64   // content of every cell
	vol    []float64   // measure of every cell
	skin   [][]float64 // per axis, surface content of every line, the last found
	total  float64
	flip   bool
	// Vary, where set, multiplies D by a factor that depends on the content.
	Vary func(x float64) float64
	// work
	old, a, b, c, r, d []float64
}

// Cylinder is a wheel of a radius and a height in metres at content x0.
func Cylinder(radius, height, x0 float64, g Grid) *Body {
	return newBody(x0, newAxis(radius, 1, g), newAxis(height/2, 0, g))
}

// Block is a block of three lengths in metres at content x0.
func Block(length, width, height, x0 float64, g Grid) *Body {
	return newBody(x0, newAxis(length/2, 0, g), newAxis(width/2, 0, g), newAxis(height/2, 0, g))
}

// Sphere is a ball of a radius in metres at content x0.
func Sphere(radius, x0 float64, g Grid) *Body { return newBody(x0, newAxis(radius, 2, g)) }

func newBody(x0 float64, axes ...axis) *Body {
	b := &Body{axes: axes}
	n, longest := 1, 0
	for _, a := range axes {
		b.size = append(b.size, a.cells())
		b.stride = append(b.stride, n)
		n *= a.cells()
		longest = max(longest, a.cells())
	}
	b.x, b.vol, b.old = make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range b.x {
		b.x[i], b.vol[i] = x0, 1
		for k, a := range axes {
			b.vol[i] *= a.vol[i/b.stride[k]%b.size[k]]
		}
		b.total += b.vol[i]
	}
	for k := range axes {
		s := make([]float64, n/b.size[k])
		for i := range s {
			s[i] = x0
		}
		b.skin = append(b.skin, s)
	}
	work := make([]float64, 5*longest)
	b.a, b.b, b.c = work[:longest], work[longest:2*longest], work[2*longest:3*longest]
	b.r, b.d = work[3*longest:4*longest], work[4*longest:]
	return b
}

// Fill sets the content of every cell from the relative positions of its
// centre, 0 in the middle to 1 at the surface, one per direction.
func (b *Body) Fill(content func(at []float64) float64) {
	at := make([]float64, len(b.axes))
	for i := range b.x {
		for k, a := range b.axes {
			j := i / b.stride[k] % b.size[k]
			at[k] = (a.face[j] + a.face[j+1]) / 2 / a.face[len(a.face)-1]
		}
		b.x[i] = content(at)
	}
	for k := range b.axes {
		for l := range b.skin[k] {
			b.skin[k][l] = b.x[b.lineStart(k, l)+(b.size[k]-1)*b.stride[k]]
		}
	}
}

// Mean is the mean content of the body.
func (b *Body) Mean() float64 {
	s := 0.0
	for i, v := range b.vol {
		s += v * b.x[i]
	}
	return s / b.total
}

// lineStart is the index of the inmost cell of line l along axis k.
func (b *Body) lineStart(k, l int) int {
	s := b.stride[k]
	return l/s*s*b.size[k] + l%s
}

// Step carries the body dt seconds on at diffusivity D under a surface law. The
// directions are taken one after the other, their order turned about every
// step, each by a two-stage implicit method of second order that damps what is
// stiff; the surface law is solved, not linearised.
//
// Source: SDIRK2 of Alexander 1977 with gamma = 1 - 1/sqrt(2); splitting after
// Strang 1968 (both from memory).
func (b *Body) Step(dt, diff float64, s Surface) {
	n := len(b.axes)
	for i := range n {
		k := i
		if b.flip {
			k = n - 1 - i
		}
		for l := range b.skin[k] {
			b.line(k, l, dt, diff, s)
		}
	}
	b.flip = !b.flip
}

const gamma = 1 - 1/math.Sqrt2

func (b *Body) line(k, l int, dt, diff float64, s Surface) {
	a := &b.axes[k]
	n, st, at := b.size[k], b.stride[k], b.lineStart(k, l)
	x := b.old[:n]
	for i := range n {
		x[i] = b.x[at+i*st]
		b.r[i] = x[i]
	}
	// Conductances between neighbours.
	for i := range n {
		g := diff / a.gap[i]
		if b.Vary != nil {
			v := b.Vary(x[i])
			if i+1 < n {
				v = (v + b.Vary(x[i+1])) / 2
			} else {
				v = b.Vary((x[i] + b.skin[k][l]) / 2)
			}
			g *= v
		}
		b.d[i] = g * a.area[i+1]
	}
	h := gamma * dt
	b.implicit(a, n, h, k, l, s) // r: Un -> U1
	for i := range n {
		b.r[i] = x[i] + (1-gamma)/gamma*(b.r[i]-x[i])
	}
	b.implicit(a, n, h, k, l, s)
	for i := range n {
		b.x[at+i*st] = b.r[i]
	}
}

// implicit solves U = r + h L(U) along one line into r.
func (b *Body) implicit(a *axis, n int, h float64, k, l int, s Surface) {
	// Elimination from the middle outward leaves one equation in the outmost
	// cell, which the surface law closes.
	prev := 0.0 // c' of the row before
	for i := range n {
		in := 0.0
		if i > 0 {
			in = h * b.d[i-1] / a.vol[i]
		}
		out := 0.0
		if i+1 < n {
			out = h * b.d[i] / a.vol[i]
		}
		den := 1 + in + out - in*prev
		r := b.r[i]
		if i > 0 {
			r += in * b.r[i-1]
		}
		if i+1 < n {
			b.r[i] = r / den
			prev = out / den
			b.c[i] = prev
			continue
		}
		// den U + (h A/V) F(xs) = r with U = xs + F(xs) A/g, g = d[n-1].
		half := a.area[n] / b.d[n-1]
		w := den*half + h*a.area[n]/a.vol[n-1]
		xs := root(s, den, w, r, b.skin[k][l])
		f, _ := s.Flux(xs)
		b.skin[k][l] = xs
		b.r[i] = xs + f*half
	}
	for i := n - 2; i >= 0; i-- {
		b.r[i] += b.c[i] * b.r[i+1]
	}
}

// root solves den x + w F(x) = r from a guess, by Newton's method held between
// bounds; the left side rises with x.
func root(s Surface, den, w, r, guess float64) float64 {
	lo, hi := 1e-9, 10.0
	if l, ok := s.(Linear); ok {
		return (r + w*l.Transfer*l.Balance) / (den + w*l.Transfer)
	}
	x := math.Min(math.Max(guess, lo), hi)
	for range 60 {
		f, df := s.Flux(x)
		e := den*x + w*f - r
		if e > 0 {
			hi = x
		} else {
			lo = x
		}
		next := x - e/(den+w*df)
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-x) < 1e-10+1e-9*x {
			return next
		}
		x = next
	}
	return x
}
