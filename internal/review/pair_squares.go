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
	in          bool    // it takes part; else all is 0, and so are scores
	above, rate float64 // its side less the one expected; events expected for each share or size
}

// scorer is a scoring with above in the unit of scores.
type scorer struct{ above, rate float64 }

func (s *scoring) scorer() scorer { return scorer{scoreUnit * s.above, s.rate} }

func (s *scorer) of(y, exposure float64) int64 {
	return scored(s.above * (y - s.rate*exposure))
}

func scored(score float64) int64 { return int64(math.RoundToEven(score)) }

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
			if s.Compared {
				out[2*i+side] = scoring{true, float64(side) - s.Share, level}
			}
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
	if s.pull != 0 { // few patients pull, and a product costs more than the question
		s.pulls.add(s.pull, s.pull)
		s.scoresOnPulls.add(s.score, s.pull)
		s.pull = 0
	}
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
	r, m, o := f.rows(b), f.mix, b.d.outcome(f.outcome)
	cells, crude, ratio := f.cellScorings(), f.crudeScorings(), math.Exp(f.byMix.log)
	var sums struct {
		within, crude, byMix patientSums
		arch                 [2]patientSums
	}
	exposed := [3]float64{f.within.exposedRate(), f.crude.exposedRate(), f.byMix.exposedRate()}
	for p := range len(r.d.patients) - 1 {
		compared, any := false, false
		for i := r.d.patients[p]; i < r.d.patients[p+1]; i++ {
			side, due := sideOf(r.sides[i]), o.share[o.days[i]]
			if side == notAssessable || due == 0 {
				continue
			}
			any = true
			arch, mix := r.mix[i]%2, &m.ways[r.mix[i]]
			y, share := float64(o.events(int(i))), float64(due)/1e9
			cell, all := &cells[2*(int(r.place[i])*m.bands+mix.band)+int(side)], &crude[2*arch+int32(side)]
			size := share * mix.rate
			compared = compared || cell.in
			sums.within.score += cell.within.of(y, size)
			sums.arch[arch].score += cell.arch.of(y, size)
			sums.crude.score += all.within.of(y, share)
			// By case mix the rate of a mix counts with the events that its share lets expect.
			rate := m.base[arch] * mix.rate
			if side == 1 {
				rate *= ratio
				if cell.in {
					sums.within.pull += scored(scoreUnit * (y - exposed[0]*share))
				}
				if all.in {
					sums.crude.pull += scored(scoreUnit * (y - exposed[1]*share))
				}
				sums.byMix.pull += scored(scoreUnit * (y - exposed[2]*share))
			}
			sums.byMix.score += scored(scoreUnit * (float64(side) - mix.lean) * (y - rate*share))
		}
		if compared {
			f.patients++
		}
		if any {
			sums.within.end()
			sums.crude.end()
			sums.byMix.end()
			sums.arch[0].endScore()
			sums.arch[1].endScore()
		}
	}
	f.within.take(&sums.within)
	f.crude.take(&sums.crude)
	f.byMix.take(&sums.byMix)
	for a := range f.arch {
		f.arch[a].take(&sums.arch[a])
	}
}

// cellScoring is how a denture scores within clinicians, whether it takes part there, and how
// among those of its arch alone.
type cellScoring struct {
	within, arch scorer
	in           bool
}

// cellScorings are those of the cells, by cell and side. A cell stands in one arch.
func (f *pairFit) cellScorings() []cellScoring {
	within := f.within.scorings(len(f.cells))
	arches := [2][]scoring{f.arch[0].scorings(len(f.cells)), f.arch[1].scorings(len(f.cells))}
	out := make([]cellScoring, len(within))
	for i, s := range within {
		out[i] = cellScoring{s.scorer(), arches[f.archOf(i/2)][i].scorer(), s.in}
	}
	return out
}

// crudeScorings are those of the arches, by arch and side, with none for an arch alone.
func (f *pairFit) crudeScorings() []cellScoring {
	var out []cellScoring
	for _, s := range f.crude.scorings(2) {
		out = append(out, cellScoring{within: s.scorer(), in: s.in})
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
