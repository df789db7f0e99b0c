package drying

import "math"

// The spread of the logs of the two multipliers round the physics: what a lot
// has in common (room, air movement, curd) and what each wheel has for itself
// (its place on the shelf, its rind).
//
// Air side: the convection of a movement class is known to a factor of about
// 1.4 (2 to 3 still, 5 to 8 brisk). Inside: the diffusivity of a group to a
// factor of about 1.8, so its root to 1.35. Common practice, no source; the
// coverage test holds them to account.
const (
	lotAirSD, wheelAirSD       = 0.40, 0.15
	lotInsideSD, wheelInsideSD = 0.36, 0.12
)

// Shared is what the sister wheels of a lot say about the lot's effect on the
// logs of (air side, inside): its mean and its 2x2 covariance. The zero value
// says nothing, as does a nil pointer in Subject.
type Shared struct {
	Mean   [2]float64
	Cov    [2][2]float64
	Wheels int // weighed wheels it rests on
}

func lotPrior() Shared {
	return Shared{Cov: [2][2]float64{{lotAirSD * lotAirSD, 0}, {0, lotInsideSD * lotInsideSD}}}
}

// Pool learns the lot's effect from its weighed wheels. Subjects without
// weighings say nothing. For a wheel's own forecast pool its sisters and leave
// the wheel out, or its weighings count twice: see PoolOthers. Each subject's
// own Lot is not used.
func Pool(subjects []Subject) Shared {
	return pool(evidenceOf(subjects), -1)
}

// PoolOthers gives for every subject the pool of all the others.
func PoolOthers(subjects []Subject) []Shared {
	ev := evidenceOf(subjects)
	out := make([]Shared, len(subjects))
	for i := range out {
		out[i] = pool(ev, i)
	}
	return out
}

// evidence is one wheel's likelihood of its multipliers' logs in information
// form, its own spread round the lot already added.
type evidence struct {
	info [2][2]float64
	vec  [2]float64
	ok   bool
}

func evidenceOf(subjects []Subject) []evidence {
	out := make([]evidence, len(subjects))
	alone := make([]Subject, len(subjects))
	for i, s := range subjects {
		s.Lot = nil
		alone[i] = s
	}
	fits := Estimates(alone)
	for i, s := range subjects {
		if len(s.Points) == 0 {
			continue
		}
		f := fits[i]
		if f.used == 0 {
			continue
		}
		// The posterior less the prior is what the weights said.
		post := inv2([2][2]float64{{f.cov[0][0], f.cov[0][1]}, {f.cov[1][0], f.cov[1][1]}})
		prior := inv2(f.prior.cov2())
		like := [2][2]float64{{post[0][0] - prior[0][0], post[0][1] - prior[0][1]}, {post[1][0] - prior[1][0], post[1][1] - prior[1][1]}}
		like[0][0], like[1][1] = math.Max(like[0][0], 1e-9), math.Max(like[1][1], 1e-9)
		m := [2]float64{f.theta[0], f.theta[1]}
		pv := mul2(post, m)
		v := [2]float64{pv[0] - prior[0][0]*f.prior.mean[0] - prior[0][1]*f.prior.mean[1], pv[1] - prior[1][0]*f.prior.mean[0] - prior[1][1]*f.prior.mean[1]}
		if like[0][0]*like[1][1]-like[0][1]*like[1][0] < 1e-12*like[0][0]*like[1][1] {
			like[0][1], like[1][0] = 0.999*like[0][1], 0.999*like[1][0]
		}
		// N(theta; mu, W) folded into the likelihood of theta: information
		// (I + like W)^-1 like about mu.
		w := [2][2]float64{{wheelAirSD * wheelAirSD, 0}, {0, wheelInsideSD * wheelInsideSD}}
		lw := prod2(like, w)
		fold := inv2([2][2]float64{{1 + lw[0][0], lw[0][1]}, {lw[1][0], 1 + lw[1][1]}})
		out[i] = evidence{info: prod2(fold, like), vec: mul2(fold, v), ok: true}
	}
	return out
}

func pool(ev []evidence, skip int) Shared {
	lot := lotPrior()
	info := inv2(lot.Cov)
	var vec [2]float64
	n := 0
	for i, e := range ev {
		if i == skip || !e.ok {
			continue
		}
		n++
		off := (e.info[0][1] + e.info[1][0]) / 2
		info[0][0] += e.info[0][0]
		info[1][1] += e.info[1][1]
		info[0][1] += off
		info[1][0] += off
		vec[0] += e.vec[0]
		vec[1] += e.vec[1]
	}
	cov := inv2(info)
	return Shared{Mean: mul2(cov, vec), Cov: cov, Wheels: n}
}

func inv2(m [2][2]float64) [2][2]float64 {
	d := m[0][0]*m[1][1] - m[0][1]*m[1][0]
	return [2][2]float64{{m[1][1] / d, -m[0][1] / d}, {-m[1][0] / d, m[0][0] / d}}
}

func mul2(m [2][2]float64, v [2]float64) [2]float64 {
	return [2]float64{m[0][0]*v[0] + m[0][1]*v[1], m[1][0]*v[0] + m[1][1]*v[1]}
}

func prod2(a, b [2][2]float64) [2][2]float64 {
	var c [2][2]float64
	for i := range 2 {
		for j := range 2 {
			c[i][j] = a[i][0]*b[0][j] + a[i][1]*b[1][j]
		}
	}
	return c
}
