package drying

import "math"

// shared is how many unknowns sisters have in common: air side, inside, damp.
const shared = kDamp + 1

// The spread of the shared unknowns round the physics: what a lot has in common
// (room, hygrometer, air movement, curd) and what each wheel has for itself (its
// place on the shelf, its rind).
//
// Air side: the convection of a movement class is known to a factor of about
// 1.4 (2 to 3 still, 5 to 8 brisk). Inside: the diffusivity of a group to a
// factor of about 1.8, so its root to 1.35. Damp: what cheap hygrometers may be off by
// at high humidity, and the rind's own water activity.
// Convection: computed from correlations (see air.Movement). The rest: our guess, no
// source; TestIntervalsHold holds all to account.
var (
	lotSD   = [shared]float64{kAir: 0.40, kInside: 0.36, kDamp: 0.03}
	wheelSD = [shared]float64{kAir: 0.15, kInside: 0.12, kDamp: 0.005}
)

// rindSD is what is not known of a lot's damp where the hygrometer is known:
// the water activity of its rinds. Our calibration, as misfitSD.
const rindSD = 0.008

// misfitSD is what sisters get wrong together, however many they are: the
// model's own misfit. Our calibration: TestIntervalsHold.
var misfitSD = [shared]float64{kAir: 0.10, kInside: 0.08, kDamp: 0.004}

// Shared is what the sister wheels of a lot say about the lot's effect on the
// shared unknowns (logs of air side and inside, damp as a fraction of RH): its
// mean and its covariance. The zero value says nothing, as does a nil pointer
// in Subject.
type Shared struct {
	Mean   [shared]float64
	Cov    [shared][shared]float64
	Wheels int // weighed wheels it rests on
}

func (s Subject) lotPrior() Shared {
	var out Shared
	for i, sd := range lotSD {
		out.Cov[i][i] = sd * sd
	}
	if h := float64(s.HygrometerSD); h > 0 {
		out.Cov[kDamp][kDamp] = math.Min(h*h+rindSD*rindSD, out.Cov[kDamp][kDamp])
	}
	return out
}

// together are the shared unknowns.
var together = sparse{kAir, kInside, kDamp}

// Evidence is what one wheel's weights say of its lot: their likelihood of the shared
// unknowns in information form, and the variance that was held of their damp before. In
// single precision, as it's kept.
type Evidence struct {
	Info [shared * (shared + 1) / 2]float32 // the rows up to their diagonal
	Vec  [shared]float32
	Damp float32
}

// EvidenceOf fits a wheel by itself, whatever Lot says; ok is false where no weighing can be used.
func EvidenceOf(s Subject) (out Evidence, ok bool) {
	s.Lot = nil
	f := Estimate(s)
	if f.used == 0 {
		return out, false
	}
	out.Damp = float32(s.lotPrior().Cov[kDamp][kDamp])
	// The posterior less the prior is what the weights said of the wheel: a
	// mean with a covariance, to which the wheel's own spread round the lot
	// is added.
	post, _ := together.inverse(&f.cov)
	prior, _ := together.inverse(&f.prior.cov)
	var said mat
	var about vec
	for _, a := range together {
		for _, b := range together {
			said[a][b] = post[a][b] - prior[a][b]
			about[a] += post[a][b]*f.theta[b] - prior[a][b]*f.prior.mean[b]
		}
	}
	for _, a := range together { // never less than next to nothing
		said[a][a] = math.Max(said[a][a], 0) + 1e-3*prior[a][a]
		about[a] += 1e-3 * prior[a][a] * f.theta[a]
	}
	cov, _ := together.inverse(&said)
	var mean vec
	for _, a := range together {
		for _, b := range together {
			mean[a] += cov[a][b] * about[b]
		}
	}
	for _, a := range together {
		cov[a][a] += wheelSD[a] * wheelSD[a]
	}
	info, _ := together.inverse(&cov)
	for _, a := range together {
		var v float64
		for _, b := range together {
			v += info[a][b] * mean[b]
		}
		out.Vec[a] = float32(v)
		for b := range a + 1 {
			out.Info[a*(a+1)/2+b] = float32(info[a][b])
		}
	}
	return out, true
}

// Pool learns the lot's effect from what its weighed wheels say. For a wheel's own
// forecast leave the wheel out, or its weighings count twice.
func Pool(said []Evidence) Shared {
	var before, info mat
	var sum vec
	var out Shared
	lot := Subject{}.lotPrior()
	for a := range shared {
		copy(before[a][:], lot.Cov[a][:])
	}
	for i := range said {
		e := &said[i]
		before[kDamp][kDamp] = float64(e.Damp)
		out.Wheels++
		for a := range shared {
			sum[a] += float64(e.Vec[a])
			for b := range a + 1 {
				x := float64(e.Info[a*(a+1)/2+b])
				info[a][b] += x
				if b < a {
					info[b][a] += x
				}
			}
		}
	}
	prior, _ := together.inverse(&before)
	for _, a := range together {
		for _, b := range together {
			info[a][b] += prior[a][b]
		}
	}
	cov, _ := together.inverse(&info)
	for _, a := range together {
		for _, b := range together {
			out.Mean[a] += cov[a][b] * sum[b]
			out.Cov[a][b] = cov[a][b]
		}
		if out.Wheels > 0 {
			out.Cov[a][a] = math.Min(out.Cov[a][a]+misfitSD[a]*misfitSD[a], before[a][a])
		}
	}
	return out
}
