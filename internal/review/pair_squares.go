package review

import "math"

// A denture's score is what it moves a log ratio by, times the information: how far its
// side stands from that expected of its like, times its events less those expected. A
// patient's is the sum of his dentures'; the squares over patients are what a variance
// robust for patients is made of. Scores are counted in whole billionths, so that sums
// are the same in any order.
const scoreUnit = 1e9

// scoring says how a denture's score follows from its events and its share of the
// follow-up, or its size, which is the share times the trouble that its case mix lets
// expect.
type scoring struct {
	in          bool    // it takes part
	above, rate float64 // its side less the one expected; events expected for each share or size
}

func (s *scoring) of(y, exposure float64) int64 {
	return int64(math.RoundToEven(scoreUnit * s.above * (y - s.rate*exposure)))
}

// scorings are those of a stratified view, by stratum and side; strata that are not
// compared have none.
func (v *view) scorings(strata int) []scoring {
	out := make([]scoring, 2*strata)
	if !v.ok {
		return out
	}
	for i, s := range v.fit {
		for side := range 2 {
			level := s.Base
			if side == 1 {
				level *= math.Exp(v.log)
			}
			out[2*i+side] = scoring{s.Compared, float64(side) - s.Share, level}
		}
	}
	return out
}

// patientSums are the sums over one patient's dentures, and the squares over all.
type patientSums struct {
	score, pull                  int64
	scores, pulls, scoresOnPulls wideSum
}

// end adds the patient to the squares and begins another.
func (s *patientSums) end() {
	s.pulls.add(s.pull, s.pull)
	s.scoresOnPulls.add(s.score, s.pull)
	s.pull = 0
	s.endScore()
}

// endScore is end where nothing pulls.
func (s *patientSums) endScore() {
	s.scores.add(s.score, s.score)
	s.score = 0
}

func (v *view) take(s *patientSums) {
	const unit = scoreUnit * scoreUnit
	v.score, v.rate, v.product = s.scores.value()/unit, s.pulls.value()/unit, s.scoresOnPulls.value()/unit
}

// sumSquares sums the squares over patients of every view, and counts the patients
// compared within clinicians.
func (f *pairFit) sumSquares(b *pairBasis) {
	r, m := f.rows(b), f.mix
	within, crude, byMix := f.within.scorings(len(f.cells)), f.crude.scorings(2), f.mixScorings()
	// An arch's cells stand in one view alone.
	arches, upper := f.arch[0].scorings(len(f.cells)), f.arch[1].scorings(len(f.cells))
	for i := range arches {
		if f.archOf(i/2) == 1 {
			arches[i] = upper[i]
		}
	}
	var sums struct{ within, crude, byMix, lower, upper patientSums }
	arch := [2]*patientSums{&sums.lower, &sums.upper}
	exposed := [3]float64{f.within.exposedRate(), f.crude.exposedRate(), f.byMix.exposedRate()}
	for p := range len(r.d.patients) - 1 {
		compared, any := false, false
		for i := r.d.patients[p]; i < r.d.patients[p+1]; i++ {
			side, due := sideOf(r.sides[i]), r.outcome.shareOf(int(i))
			if side == notAssessable || due == 0 {
				continue
			}
			any = true
			mix := r.mix[i]
			y, share := float64(r.outcome.events(int(i))), float64(due)/1e9
			size := share * m.rate[mix/2]
			at := 2*(int(r.place[i])*m.bands+m.band[mix/2]) + int(side)
			pull := func(s *patientSums, rate float64) {
				if side == 1 {
					s.pull += int64(math.RoundToEven(scoreUnit * (y - rate*share)))
				}
			}
			if s := &within[at]; s.in {
				compared = true
				sums.within.score += s.of(y, size)
				pull(&sums.within, exposed[0])
			}
			if s := &arches[at]; s.in {
				arch[mix%2].score += s.of(y, size)
			}
			if s := &crude[2*(mix%2)+int32(side)]; s.in {
				sums.crude.score += s.of(y, share)
				pull(&sums.crude, exposed[1])
			}
			sums.byMix.score += byMix[2*mix+int32(side)].of(y, share)
			pull(&sums.byMix, exposed[2])
		}
		if compared {
			f.patients++
		}
		if any {
			sums.within.end()
			sums.crude.end()
			sums.byMix.end()
			sums.lower.endScore()
			sums.upper.endScore()
		}
	}
	f.within.take(&sums.within)
	f.crude.take(&sums.crude)
	f.byMix.take(&sums.byMix)
	f.arch[0].take(&sums.lower)
	f.arch[1].take(&sums.upper)
}

// mixScorings are those of the comparison by case mix, by mix, arch and side. The rate of
// a mix counts here with the events that its share lets expect.
func (f *pairFit) mixScorings() []scoring {
	m := f.mix
	out, ratio := make([]scoring, 4*len(m.rate)), math.Exp(f.byMix.log)
	for i := range out {
		mix, arch, side := i/4, i%4/2, i%2
		rate := m.base[arch] * m.rate[mix]
		if side == 1 {
			rate *= ratio
		}
		out[i] = scoring{true, float64(side) - m.lean[arch][mix], rate}
	}
	return out
}

// sumHands sums the squares of the clinicians' scores within clinicians.
func (f *pairFit) sumHands() {
	if !f.within.ok {
		return
	}
	of := f.within.scorings(len(f.cells))
	perClinician := 2 * f.mix.bands
	for c := 0; c < len(f.cells); c += perClinician {
		sum, compared := 0.0, false
		for i := c; i < c+perClinician; i++ {
			for side, s := range f.cells[i] {
				if score := of[2*i+side]; score.in {
					sum += score.above * (float64(s.y) - score.rate*float64(s.size)/1e9)
					compared = true
				}
			}
		}
		if compared {
			f.clinicians++
		}
		f.handsSquares += sum * sum
	}
}
