package review

import "math"

// pairProduct holds sums, over dentures of one cell and side, of the products of what
// each has with what it has itself (times 1) or with what another denture of its
// patient has (times 2: either may come first). What a denture has is its events, its
// share of the follow-up, and its size: the share times the trouble that its case mix
// lets expect. From these sums follow the squares over patients of anything that is
// linear in events, share and size, whatever the factors.
type pairProduct struct {
	cell, side [2]int
	of         [3][3]float64 // events, share and size of the first with those of the second
	mm, mr     float64       // of two dentures: score by case mix squared, and times the pull on the rate with the habit, either way
	times      float64
	twos       int64 // pairs of patients with two dentures
}

// linear is a sum of events, share and size with these factors.
type linear [3]float64

// with is the sum of the products of a of the first denture with b of the second.
func (p *pairProduct) with(a, b linear) float64 {
	sum := 0.0
	for i := range a {
		for j := range b {
			sum += a[i] * b[j] * p.of[i][j]
		}
	}
	return sum
}

// pulls are a denture's score and its pull on the exposed rate, by cell and side; ok is
// false where the cell has no part in the comparison.
type pulls func(cell, side int) (score, rate linear, ok bool)

// squares sums a view's squares over patients.
func (v *view) squares(products []pairProduct, of pulls) {
	for i := range products {
		p := &products[i]
		sa, ra, okA := of(p.cell[0], p.side[0])
		sb, rb, okB := of(p.cell[1], p.side[1])
		if !okA || !okB {
			continue
		}
		v.score += p.times * p.with(sa, sb)
		v.rate += p.times * p.with(ra, rb)
		v.product += p.times / 2 * (p.with(sa, rb) + p.with(ra, sb))
	}
	// Rounding can leave a sum of squares that cancel out just below nothing.
	v.score, v.rate = math.Max(0, v.score), math.Max(0, v.rate)
}

// pullsOf is the score of a stratified view. At is the number of a cell's stratum, and
// at is the place of what events are held against: 1 share, 2 size.
func (v *view) pullsOf(stratum func(cell int) int, against int) pulls {
	exposed := v.exposedRate()
	return func(cell, side int) (score, rate linear, ok bool) {
		s := v.fit[stratum(cell)]
		if !s.Compared {
			return score, rate, false
		}
		level, x := s.Base, float64(side)
		if side == 1 {
			level *= math.Exp(v.log)
			rate[0], rate[1] = 1, -exposed
		}
		score[0] = x - s.Share
		score[against] = -(x - s.Share) * level
		return score, rate, true
	}
}

// sumSquares sums the squares over patients of every view, and of the clinicians'
// scores.
func (f *pairFit) sumSquares() {
	own := func(cell int) int { return cell }
	if f.within.ok {
		f.within.squares(f.products, f.within.pullsOf(own, 2))
		f.sumHands()
	}
	for a := range f.arch {
		if f.arch[a].ok {
			f.arch[a].squares(f.products, f.arch[a].pullsOf(own, 2))
		}
	}
	if f.crude.ok {
		f.crude.squares(f.products, f.crude.pullsOf(f.archOf, 1))
	}
	f.sumByMix()
}

// sumByMix sums the squares of the comparison by case mix: of dentures by themselves
// from the patterns, within each of which expected trouble is the same.
func (f *pairFit) sumByMix() {
	w := &f.byMix
	exposed, ratio := w.exposedRate(), math.Exp(w.log)
	for i := range f.patterns {
		p := &f.patterns[i]
		if p.side < 0 {
			continue
		}
		self := pairProduct{of: [3][3]float64{{p.yy, p.yShare}, {p.yShare, p.shareShare}}}
		a := int(bit(p.upper))
		fitted, pull := f.mix.base[a]*f.mix.rate[p.mix-1], linear{}
		if p.side == 1 {
			fitted *= ratio
			pull = linear{1, -exposed}
		}
		above := float64(p.side) - f.mix.lean[a][p.mix-1]
		score := linear{above, -above * fitted}
		w.score, w.rate, w.product = w.score+self.with(score, score), w.rate+self.with(pull, pull), w.product+self.with(score, pull)
	}
	for i := range f.products {
		p := &f.products[i]
		w.score, w.product = w.score+p.times*p.mm, w.product+p.mr
		if p.times == 2 && p.side == [2]int{1, 1} {
			pull := linear{1, -exposed}
			w.rate += p.times * p.with(pull, pull)
		}
	}
	w.score, w.rate = math.Max(0, w.score), math.Max(0, w.rate)
}

// countPatients counts the patients compared. Of those with up to two dentures each
// denture is a patient, less the pairs compared; those with more are counted by
// themselves, many dentures of manyPatients.
func (f *pairFit) countPatients(many, manyPatients int64) {
	f.patients = f.within.n[0] + f.within.n[1] - many + manyPatients
	for _, p := range f.products {
		if f.within.fit[p.cell[0]].Compared && f.within.fit[p.cell[1]].Compared {
			f.patients -= p.twos
		}
	}
}

// sumHands sums the squares of the clinicians' scores.
func (f *pairFit) sumHands() {
	of := f.within.pullsOf(func(cell int) int { return cell }, 2)
	perClinician := 2 * f.mix.bands
	for c := 0; c < len(f.cells); c += perClinician {
		sum, compared := 0.0, false
		for i := c; i < c+perClinician; i++ {
			for side, s := range f.cells[i] {
				if score, _, ok := of(i, side); ok {
					sum += score[0]*float64(s.y) + score[2]*float64(s.size)/1e9
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
