package review

import (
	"context"
	"database/sql"
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
	fit             []stats.StratumFit
	leftOut         int64
	variance        float64 // of log
	difference, sdD float64
	with, sdWith    float64
	without, sdOut  float64
}

// pairFit is everything computed for one habit and outcome.
type pairFit struct {
	cells                 []pairCell
	mix                   *mixFit
	within, byMix, crude  view
	arch                  [2]view // lower, upper: log, variance and counts alone
	patients, clinicians  int64
	handsSquares          float64
	assessable, exposed   int64
	eventsWith, eventsOut int64
}

// fitPair compares dentures with and without a habit for the outcome in pair_rows.
// A pair with too few dentures or events on a side to be graded is counted and not
// fitted.
func (q *asker) fitPair(ctx context.Context, exposure string, patterns []mixPattern, mixes coding, columns []string, clinicians int) (*pairFit, error) {
	f := &pairFit{}
	for _, p := range patterns {
		switch p.side {
		case 1:
			f.exposed, f.eventsWith = f.exposed+p.n, f.eventsWith+p.y
			fallthrough
		case 0:
			f.assessable += p.n
		}
		if p.side == 0 {
			f.eventsOut += p.y
		}
	}
	if min(f.exposed, f.assessable-f.exposed) < q.s.MinDentures || min(f.eventsWith, f.eventsOut) < gradeEvents {
		return f, nil
	}
	bands := min(mixBands, max(1, int(f.assessable)/(2*max(1, clinicians)*bandDentures)))
	var err error
	if f.mix, err = fitMix(patterns, mixes, columns, bands); err != nil {
		return nil, err
	}
	if err := q.execWith(ctx, "pair_sized", places{"exposure": {exposure}}, f.mix.scores(), bands); err != nil {
		return nil, err
	}
	if err := q.readCells(ctx, f, 2*clinicians*bands); err != nil {
		return nil, err
	}
	if err := f.estimate(); err != nil {
		return nil, err
	}
	if err := q.readSquares(ctx, f); err != nil {
		return nil, err
	}
	f.spread()
	return f, nil
}

func (q *asker) readCells(ctx context.Context, f *pairFit, cells int) error {
	f.cells = make([]pairCell, cells)
	return q.each(ctx, "pair_strata", func(rows *sql.Rows) error {
		var cell int
		var exposed bool
		var s pairSide
		if err := rows.Scan(&cell, &exposed, &s.n, &s.y, &s.share, &s.size, &s.lean, &s.lean2); err != nil {
			return err
		}
		f.cells[cell][int(bit(exposed))] = s
		return nil
	})
}

// arch of a cell: 0 lower, 1 upper.
func (f *pairFit) archOf(cell int) int { return cell / f.mix.bands % 2 }

// estimate finds the three ratios and that of each arch.
func (f *pairFit) estimate() error {
	all := func(int) bool { return true }
	if err := f.within.stratified(f.cells, all); err != nil {
		return err
	}
	f.within.inflate = f.inflation()
	for a := range f.arch {
		if err := f.arch[a].stratified(f.cells, func(i int) bool { return f.archOf(i) == a }); err != nil {
			return err
		}
		f.arch[a].inflate = f.within.inflate
	}
	arches := make([]pairCell, 2)
	for i, c := range f.cells {
		for side, s := range c {
			t := &arches[f.archOf(i)][side]
			t.n, t.y, t.share, t.size = t.n+s.n, t.y+s.y, t.share+s.share, t.size+s.share
		}
	}
	if err := f.crude.stratified(arches, all); err != nil {
		return err
	}
	f.crude.inflate = 1
	f.byMix = view{ok: true, log: f.mix.logRatio, info: 1 / f.mix.model, inflate: 1, strata: f.crude.strata,
		events: f.crude.events, n: f.crude.n, size: f.crude.size, leftOut: f.crude.leftOut}
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

// readSquares sends the fits back and reads what the variances are summed from.
func (q *asker) readSquares(ctx context.Context, f *pairFit) error {
	rows := make([][]any, len(f.cells))
	share := func(v *view, i int) []any {
		if !v.ok || !v.fit[i].Compared {
			return []any{"", 0.0, 0.0}
		}
		s := v.fit[i]
		return []any{s.Share, s.Base, s.Base * math.Exp(v.log)}
	}
	for i := range rows {
		a := f.archOf(i)
		base := f.mix.base[a]
		rows[i] = append(share(&f.within, i), base, base*math.Exp(f.byMix.log))
		rows[i] = append(append(rows[i], share(&f.crude, a)...), share(&f.arch[a], i)...)
	}
	var w, m, c = &f.within, &f.byMix, &f.crude
	return q.each(ctx, "pair_squares", func(r *sql.Rows) error {
		return r.Scan(&f.patients, &f.clinicians, &w.score, &f.arch[1].score, &f.arch[0].score, &m.score, &c.score,
			&w.rate, &m.rate, &c.rate, &w.product, &m.product, &c.product, &f.handsSquares)
	}, joined(rows), w.exposedRate(), m.exposedRate(), c.exposedRate())
}

// exposedRate is events per denture with the habit followed to the end of the window.
func (v *view) exposedRate() float64 {
	if v.size == 0 {
		return 0
	}
	return float64(v.events[1]) / v.size
}

// spread turns sums of squares into variances, with the factor G/(G-1) for G patients.
// The variance of a ratio is never taken below the Poisson one: with few events a
// robust variance is itself poorly known.
func (f *pairFit) spread() {
	g := float64(f.patients)
	if g < 2 {
		f.within.ok, f.byMix.ok, f.crude.ok = false, false, false
		return
	}
	few := g / (g - 1)
	for _, v := range []*view{&f.within, &f.byMix, &f.crude, &f.arch[0], &f.arch[1]} {
		if v.ok {
			v.variance = v.inflate * math.Max(few*v.score/v.info, 1) / v.info
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
			return math.Sqrt(few*math.Max(0, rate*rate*v.rate+2*rate*score*v.product+score*score*v.score)) / v.size
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
