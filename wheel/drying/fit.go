package drying

import "math"

// What a fit holds of weights and wheels. All is our calibration where no other mark
// stands beside it:
// RINDKEEP_COVERAGE=1 go test -timeout 2h -run TestIntervalsHold ./wheel/drying
//
// How far a wheel strays from its curve beyond what the scale says: the rate
// wanders by straying, holding for strayLoss of loss before it turns.
const (
	straying  = 0.058
	strayLoss = 0.008
	// underCoat is the factor on straying, and on what the rate to come does, under a
	// tight coat.
	underCoat = 0.6
	// What each e-fold of age to come does to the rate, mostFolds of them at most,
	// as the inside doesn't go on as it did: it slows by slows and may be slower
	// still by mayFall; toCome is the spread of the rate that air moving otherwise
	// brings, the same over the whole stretch to come, and goesOn what an e-fold
	// adds to it, closesOn under a rind that closes (there the fit has the slowing).
	slows, mayFall = 0.05, 0.07
	toCome         = 0.02
	goesOn         = 0.028
	closesOn       = 0.38
	mostFolds      = 0.85
	// dampToCome is how far the damp of the air to come is from that of the last
	// week, one standard deviation, leaving it with a time constant of turnDays and
	// coming back with one of dampDays; drift how far the air between two weighings
	// is from the log. Fractions of RH.
	dampToCome = 0.017
	turnDays   = 5
	dampDays   = 45
	drift      = 0.006
	// bindsMore is how much damper the air seems to a rind for each e-fold of age to
	// come, one standard deviation, as ripening lowers its water activity: fraction of RH.
	bindsMore = 0.022
	// unseen is the spread of the loss of a wheel that was never weighed beyond
	// what the unknowns' prior says: composition, the rind's own way.
	unseen = 0.10
	// slipShare of weighings are slips of the hand, spread over slipSD of loss: our
	// guess, no source.
	slipShare, slipSD = 0.03, 0.15
	maxRounds         = 16
	// The scatter found may take the variance of the weighings this far from
	// what was stated.
	scaleFaith          = 9.0
	scaleLow, scaleHigh = 0.65, 6.0
	// outrageous is how many standard deviations of all that is not known a
	// weighing may lie from the physics.
	outrageous = 6.0
	// trusting is the rounds for which weighings after a coat are believed.
	trusting = 5
	// farthest is how far a log may go from the physics, a factor of 20;
	// dampest the same for the damp of the air; beyond is how far past 0 and 1 a
	// fit may take a share before it is cut off there.
	farthest, dampest, beyond = 3.0, 0.12, 0.15
	// mostClosing is how fast a rind may close.
	mostClosing = 1.2
)

// prior is a normal prior of the unknowns. What is not known of the green
// weight is with the solver.
type prior struct {
	mean vec
	cov  mat
}

func (p *prior) sd(k int) float64 { return math.Sqrt(p.cov[k][k]) }

// set makes one unknown independent of the others.
func (p *prior) set(k int, mean, sd float64) {
	p.mean[k] = mean
	for i := range p.cov {
		p.cov[i][k], p.cov[k][i] = 0, 0
	}
	p.cov[k][k] = sd * sd
}

// result is what a fit leaves: the unknowns and their covariance.
type result struct {
	theta vec
	cov   mat
}

// unit is a step of each unknown that moves the curve as a step of 1 in the log of the
// air side does: our choice, which only bounds the steps of a fit.
var unit = vec{kAir: 1, kInside: 1, kDamp: 0.05, kShare: 1, kClose: 1, kGreen: 1, kTare: 1}

// bounded keeps unknowns where the physics can be run.
func (th *vec) bounded() {
	clip := func(k int, lo, hi float64) { th[k] = math.Max(math.Min(th[k], hi), lo) }
	clip(kAir, -farthest, farthest)
	clip(kInside, -farthest, farthest)
	clip(kDamp, -dampest, dampest)
	clip(kShare, -beyond, 1+beyond)
	clip(kClose, 0, mostClosing)
}

// fit is the maximum of the posterior, sought from given unknowns: Gauss-Newton with
// held steps, weighings weighted by how likely each is no slip; those after the
// day trust are believed for the first rounds, until the coat's share, of which
// only they speak, has come near. linearise sets curve and slopes for the
// solver's unknowns. When a fit has come to rest is our choice.
func (s *solver) fit(linearise func(*solver), p *prior, play sparse, from vec, trust float64) result {
	s.start(p, play)
	s.th, s.scale = from, 1
	for i := range s.w {
		s.w[i], s.r[i] = 1, s.said[i]
	}
	s.curve(linearise)
	s.screen(p)
	s.factor()
	step, cov := s.solve(p)
	for round := range maxRounds {
		// The weighings get new weights for this step and the next solution.
		early := round <= trusting && trust < math.Inf(1)
		moved := s.weigh(&step, &cov, early, trust)
		s.factor()
		if round == 0 {
			step, cov = s.solve(p)
		}
		if most := s.hold(&step); round > 1 && !early && most < 4e-3 && moved < 1e-2 {
			break
		}
		s.advance(linearise, p, step)
		step, cov = s.solve(p)
	}
	// The shifts are linear, and so is the curve nearby: their last step is the answer.
	step, _ = s.solve(p)
	for _, k := range s.play {
		if k >= bends || math.Abs(step[k]) < near*unit[k] {
			s.th[k] += step[k]
		}
	}
	s.th.bounded()
	s.curve(linearise)
	s.factor()
	_, cov = s.solve(p)
	s.spread(&vec{}, &cov)
	return result{theta: s.th, cov: cov}
}

// hold shortens a step that goes too far, by our choice, and says how far it goes.
func (s *solver) hold(step *vec) (most float64) {
	for _, k := range s.play {
		if k < bends {
			step[k] = math.Max(math.Min(step[k], 0.7*unit[k]), -0.7*unit[k])
			most = math.Max(most, math.Abs(step[k])/unit[k])
		}
	}
	return most
}

// advance takes a step, shorter where it makes the fit clearly worse: our choice.
func (s *solver) advance(linearise func(*solver), p *prior, step vec) {
	from, cost := s.th, s.cost(p)
	for range 5 {
		for _, k := range s.play {
			s.th[k] = from[k] + step[k]
		}
		s.th.bounded()
		s.curve(linearise)
		if s.factor(); s.cost(p) < cost+0.5 {
			return
		}
		for k := range step {
			step[k] *= 0.4
		}
	}
}
