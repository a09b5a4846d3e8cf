package review

import (
	"context"
	"errors"
	"math"

	"afterfit/internal/stats"
)

// pairSide sums one side of a cell: share and size in billionths.
type pairSide struct {
	n, y, share, size int64
	lean, lean2       float64 // sums of size times lean and its square, in billionths
}

// pairCell is one clinician, arch and band of expected trouble, without the habit
// first. Its number is (clinician*2 + upper)*bands + band.
type pairCell [2]pairSide

// view is one of the three comparisons: within clinicians, by case mix, and crude.
type view struct {
	ok              bool
	log, info       float64 // log ratio and its information
	inflate         float64 // of the variance, for what was estimated beforehand
	events          [2]int64
	n               [2]int64
	size            float64 // exposed share, in dentures followed to the end of the window
	score, rate     float64 // sums of squares over patients: of scores, of pulls on the exposed rate
	product         float64 // and of the two multiplied
	strata          int
	levels          int // of strata, where there are many of them
	fit             []stats.StratumFit
	leftOut         int64
	variance        float64 // of log
	difference, sdD float64
	with, sdWith    float64
	without, sdOut  float64
}

// pairFit is everything computed for one habit and outcome.
type pairFit struct {
	exposure, outcome string   // the habit's column, and the outcome's name
	columns           []string // of case mix
	set               *mixSet  // while it is worked on
	patterns          []mixPattern

	cells                 []pairCell
	mix                   *mixFit
	within, byMix, crude  view
	arch                  [2]view // lower, upper: log, variance and counts alone
	patients, clinicians  int64
	handsSquares          float64
	assessable, exposed   int64
	eventsWith, eventsOut int64
}

// newPairFit starts the comparison of a habit.
func newPairFit(exposure, outcome string, columns []string) *pairFit {
	return &pairFit{exposure: exposure, outcome: outcome, columns: orArch(columns)}
}

func (f *pairFit) adjusts() (columns []string, into **mixSet) { return f.columns, &f.set }

// fitPairs compares dentures with and without each habit.
func (q *asker) fitPairs(ctx context.Context, fits []*pairFit, b *pairBasis) error {
	step := q.steps("habits beside outcomes", len(fits))
	return sideBySide(ctx, shareSets(fits), func(f *pairFit) error {
		defer step()
		return f.compare(b, q.s.MinDentures)
	})
}

// compare goes over the dentures three times: a case-mix model from patterns, then
// strata, then the squares that patients with several dentures need.
func (f *pairFit) compare(b *pairBasis, least int64) error {
	defer f.set.done()
	if err := f.set.number(b); err != nil {
		return err
	}
	f.countPatterns(b)
	if err := f.fitMix(b, least); err != nil || !f.fitted() {
		return err
	}
	f.countCells(b)
	if err := f.estimate(); err != nil {
		return err
	}
	f.sumSquares(b)
	f.sumHands()
	f.spread()
	return nil
}

// fitMix counts the sides and fits the case-mix model. A pair with too few dentures or
// events on a side to be graded is counted and not fitted. It also sums the crude
// comparison, which needs no more than the patterns.
func (f *pairFit) fitMix(b *pairBasis, least int64) error {
	arches := make([]pairCell, 2)
	for _, p := range f.patterns {
		if p.side < 0 {
			continue
		}
		s := &arches[int(bit(p.upper))][p.side]
		s.n, s.y, s.share, s.size = s.n+p.n, s.y+p.y, s.share+p.share, s.size+p.share
	}
	for _, c := range arches {
		f.assessable, f.exposed = f.assessable+c[0].n+c[1].n, f.exposed+c[1].n
		f.eventsWith, f.eventsOut = f.eventsWith+c[1].y, f.eventsOut+c[0].y
	}
	if min(f.exposed, f.assessable-f.exposed) < least || min(f.eventsWith, f.eventsOut) < gradeEvents {
		return nil
	}
	bands := min(mixBands, max(1, int(f.assessable)/(b.places()*bandDentures)))
	var err error
	if f.mix, err = fitMix(f.patterns, f.set.coding, f.columns, bands); err != nil {
		return err
	}
	f.crude.inflate = 1
	if err := f.crude.stratified(arches, func(int) bool { return true }); err != nil {
		return err
	}
	f.byMix = view{ok: true, log: f.mix.logRatio, info: 1 / f.mix.model, inflate: 1, strata: f.crude.strata,
		events: f.crude.events, n: f.crude.n, size: f.crude.size, leftOut: f.crude.leftOut}
	return nil
}

// fitted reports whether there was enough for a case-mix model.
func (f *pairFit) fitted() bool { return f.mix != nil }

// arch of a cell: 0 lower, 1 upper.
func (f *pairFit) archOf(cell int) int { return cell / f.mix.bands % 2 }

// estimate finds the ratio within clinicians and that of each arch.
func (f *pairFit) estimate() error {
	if err := f.within.stratified(f.cells, func(int) bool { return true }); err != nil {
		return err
	}
	f.within.inflate, f.within.levels = f.inflation(), f.within.strata
	for a := range f.arch {
		if err := f.arch[a].stratified(f.cells, func(i int) bool { return f.archOf(i) == a }); err != nil {
			return err
		}
		f.arch[a].inflate, f.arch[a].levels = f.within.inflate, f.arch[a].strata
	}
	return nil
}

// stratified fits one ratio to the cells taken. Where the data cannot tell, ok stays
// false.
func (v *view) stratified(cells []pairCell, take func(int) bool) error {
	strata := make([]stats.Stratum, len(cells))
	for i, c := range cells {
		if !take(i) {
			continue
		}
		for side, s := range c {
			strata[i].Events[side], strata[i].Size[side] = float64(s.y), float64(s.size)/1e9
		}
		if c[0].size == 0 || c[1].size == 0 {
			v.leftOut += c[0].n + c[1].n
			continue
		}
		for side, s := range c {
			v.n[side], v.events[side] = v.n[side]+s.n, v.events[side]+s.y
		}
		v.size += float64(c[1].share) / 1e9
	}
	r, err := stats.StratifyRatio(strata)
	v.strata = r.Compared
	if errors.Is(err, stats.ErrNoData) || errors.Is(err, stats.ErrNoAnswer) {
		return nil
	}
	v.ok, v.log, v.info, v.fit = err == nil, r.LogRatio, r.Information, r.Strata
	return err
}

// inflation is what the variance of the ratio within clinicians gains because expected
// trouble was estimated from the same dentures: 1/(1-r2), r2 being the share of the
// habit's spread within strata that case mix explains (a variance inflation factor
// along the direction in which case mix goes with the habit).
func (f *pairFit) inflation() float64 {
	if !f.within.ok {
		return 1
	}
	ratio := math.Exp(f.within.log)
	var xx, xl, ll float64
	for i, c := range f.cells {
		s := f.within.fit[i]
		if !s.Compared || s.Base == 0 {
			continue
		}
		mu0, mu1 := s.Base*float64(c[0].size)/1e9, s.Base*ratio*float64(c[1].size)/1e9
		l0, l1 := s.Base*c[0].lean/1e9, s.Base*ratio*c[1].lean/1e9
		xx += (mu0 + mu1) * s.Share * (1 - s.Share)
		xl += l1 - s.Share*(l0+l1)
		ll += s.Base*c[0].lean2/1e9 + s.Base*ratio*c[1].lean2/1e9 - (l0+l1)*(l0+l1)/(mu0+mu1)
	}
	if !(ll > 1e-12*xx) {
		return 1
	}
	return 1 / (1 - math.Min(0.9, xl*xl/(xx*ll)))
}

// exposedRate is events per denture with the habit followed to the end of the window.
func (v *view) exposedRate() float64 {
	if v.size == 0 {
		return 0
	}
	return float64(v.events[1]) / v.size
}

// few is what a sum of squares over patients is raised by: G/(G-1) for G patients, and
// (n-1)/(n-k) for n dentures with k levels estimated from them, one for each stratum
// within clinicians and the ratio. Strata of twenty dentures leave residuals short by a
// twentieth. The other comparisons have two arches or few columns, which n dwarfs.
// Reference: Cameron & Miller 2015, J Hum Resour 50:317, equation 12.
func (v *view) few(patients float64) float64 {
	n, k := float64(v.n[0]+v.n[1]), float64(v.levels+1)
	return patients / (patients - 1) * (n - 1) / math.Max(1, n-k)
}

// spread turns sums of squares into variances, enlarged by few.
// The variance of a ratio is never taken below the Poisson one: with few events a
// robust variance is itself poorly known.
func (f *pairFit) spread() {
	g := float64(f.patients)
	if g < 2 {
		f.within.ok, f.byMix.ok, f.crude.ok = false, false, false
		return
	}
	for _, v := range []*view{&f.within, &f.byMix, &f.crude, &f.arch[0], &f.arch[1]} {
		if v.ok {
			v.variance = v.inflate * math.Max(v.few(g)*v.score/v.info, 1) / v.info
		}
	}
	for _, v := range []*view{&f.within, &f.byMix, &f.crude} {
		if !v.ok {
			continue
		}
		v.with = v.exposedRate()
		v.without = v.with * math.Exp(-v.log)
		v.difference = v.with - v.without
		// A denture's pull on what like dentures had is its pull on the exposed rate over
		// the ratio less its score times slope; the difference has the rest.
		back, slope := math.Exp(-v.log), v.without*v.size/v.info*math.Sqrt(v.inflate)
		sd := func(rate, score float64) float64 {
			return math.Sqrt(v.few(g)*math.Max(0, rate*rate*v.rate+2*rate*score*v.product+score*score*v.score)) / v.size
		}
		v.sdWith, v.sdOut, v.sdD = sd(1, 0), sd(back, -slope), sd(1-back, slope)
	}
}

// dispersion is the robust variance within clinicians over the Poisson one: what
// counts that vary more, and patients with two dentures, cost.
func (f *pairFit) dispersion() float64 {
	if !f.within.ok {
		return 1
	}
	return math.Max(1, f.within.variance*f.within.info)
}
