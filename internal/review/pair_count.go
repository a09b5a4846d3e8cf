package review

import "math"

// comparedRows are what one comparison asks of the dentures.
type comparedRows struct {
	d       *dentures
	place   []int32
	mix     []int32 // as in mixSet
	sides   []uint8 // as sideOf reads them
	outcome *denturesOutcome
}

func (f *pairFit) rows(b *pairBasis) comparedRows {
	return comparedRows{b.d, b.place, f.set.of, b.d.habits[f.exposure], b.d.outcome(f.outcome)}
}

// countPatterns counts dentures and events by case mix, arch and side, in this order, and
// after them those of which the habit cannot be assessed.
func (f *pairFit) countPatterns(b *pairBasis) {
	r := f.rows(b)
	all := make([]struct{ n, share, y int64 }, 4*len(f.set.coding.of))
	missing := mixPattern{side: -1}
	for i, on := range r.sides {
		side, share := sideOf(on), r.outcome.shareOf(i)
		if share == 0 {
			continue
		}
		y := r.outcome.events(i)
		if side != notAssessable {
			p := &all[2*r.mix[i]+int32(side)]
			p.n, p.share, p.y = p.n+1, p.share+share, p.y+y
			continue
		}
		if y > 0 {
			missing.shared += share
		}
		missing.n, missing.share, missing.y = missing.n+1, missing.share+share, missing.y+y
	}
	for i, p := range all {
		if p.n > 0 {
			f.patterns = append(f.patterns, mixPattern{mix: i/4 + 1, upper: i%4 >= 2, side: i % 2, n: p.n, share: p.share, y: p.y})
		}
	}
	if missing.n > 0 {
		f.patterns = append(f.patterns, missing)
	}
}

// countCells counts dentures and events by clinician, arch, band of expected trouble and
// side. What is no whole number is rounded to billionths, so that sums are the same in
// any order.
func (f *pairFit) countCells(b *pairBasis) {
	r, m := f.rows(b), f.mix
	f.cells = make([]pairCell, b.places()*m.bands)
	for i, on := range r.sides {
		side, share := sideOf(on), r.outcome.shareOf(i)
		if share == 0 || side == notAssessable {
			continue
		}
		mix := &m.ways[r.mix[i]]
		c := &f.cells[int(r.place[i])*m.bands+mix.band][side]
		size, lean := float64(share)*mix.rate, mix.lean
		c.n, c.y, c.share = c.n+1, c.y+r.outcome.events(i), c.share+share
		c.size += int64(math.RoundToEven(size))
		c.lean += math.RoundToEven(size * lean)
		c.lean2 += math.RoundToEven(size * lean * lean)
	}
}
