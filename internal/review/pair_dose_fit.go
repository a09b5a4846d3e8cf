package review

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"afterfit/internal/stats"
)

// doseFit is everything computed for one quantity and outcome. A stratum is a clinician
// and arch, a cell a stratum and band; its number is stratum*bands + band.
type doseFit struct {
	told          *Dose // what it fills
	columns       []string
	set           *mixSet // of these columns, while it is worked on
	level         float64
	values        []doseCount
	of            []int32 // by denture: the place of its value in values, -1 where it has no part
	knots         []float64
	band          []int // by mix
	bands         int
	kept          []string // columns of case mix with more than one level left
	cells         []doseCell
	taking        []bool // by stratum: it takes part
	n, y, leftOut int64
	compared      int

	curve, line *stats.StratifiedPoisson
	terms       [][]float64   // the spline at each value
	robust      *mat.SymDense // of the spline's terms
	lineRobust  float64
	patients    int64
}

func newDoseFit(d *Dose, columns []string, level float64) *doseFit {
	d.Asked = notNil(columns)
	return &doseFit{told: d, columns: orArch(columns), level: level}
}

func (f *doseFit) adjusts() (columns []string, into **mixSet) { return f.columns, &f.set }

// doseCell counts the dentures of one cell with one value.
type doseCell struct {
	cell, value int // value is a place in doseFit.values
	n, y, share int64
}

// dosePattern counts the dentures of one mix, arch and whole millimetre.
type dosePattern struct {
	mix, mm     int
	upper       bool
	n, share, y int64
}

// cutBands fits expected trouble by case mix, arch and the value, and cuts the mixes into
// bands of about as many events. The bands are what the curve is adjusted by: a score of
// expected trouble does for all its columns (Hansen 2008, Biometrika 95:481), and ten
// bands leave little of it.
func (f *doseFit) cutBands(b *pairBasis) error {
	patterns := f.countPatterns(b)
	rate, err := f.expected(patterns)
	if err != nil {
		return err
	}
	f.told.Adjusted = notNil(f.kept)
	f.cut(rate, patterns)
	return nil
}

// expected is each mix's expected trouble relative to the commonest, from a Poisson
// model of case mix, arch, and the value as a parabola.
func (f *doseFit) expected(patterns []dosePattern) ([]float64, error) {
	counted := make([]mixPattern, len(patterns))
	middle := 0.0
	for i, p := range patterns {
		counted[i] = mixPattern{mix: p.mix, upper: p.upper, n: p.n, share: p.share, y: p.y}
		middle += float64(p.mm) / float64(len(patterns))
	}
	names, marks, kept := f.set.coding.design(counted, f.columns, "one", "mm", "mm2", "upper")
	f.kept = kept
	rows := gatherDoses(patterns, marks)
	data := stats.Patterns{Names: names, X: make([]float64, len(rows)*len(names))}
	for i, p := range rows {
		row := data.X[i*len(names):][:len(names)]
		mm := float64(p.mm) - middle
		row[0], row[1], row[2], row[3] = 1, mm, mm*mm, bit(p.upper)
		for _, j := range marks[p.mix-1] {
			row[j] = 1
		}
		data.Y, data.Offset = append(data.Y, float64(p.y)), append(data.Offset, math.Log(float64(p.share)/1e9))
	}
	model, err := stats.FitGLM(stats.Poisson, data)
	if err != nil {
		return nil, err
	}
	rate := make([]float64, len(marks))
	for i, m := range marks {
		score := 0.0
		for _, j := range m {
			if !math.IsNaN(model.Coef[j]) {
				score += model.Coef[j]
			}
		}
		rate[i] = math.Exp(score)
	}
	return rate, nil
}

// gatherDoses sums the patterns that have become alike as levels were merged, in the
// order in which they first come.
func gatherDoses(patterns []dosePattern, marks [][]int) []dosePattern {
	alike, first := map[string]int{}, make([]int, len(marks))
	for i, m := range marks {
		key := joinInts(wide(m))
		if _, ok := alike[key]; !ok {
			alike[key] = i
		}
		first[i] = alike[key]
	}
	type place struct {
		mix, mm int
		upper   bool
	}
	at := map[place]int{}
	var out []dosePattern
	for _, p := range patterns {
		p.mix = first[p.mix-1] + 1
		k, ok := at[place{p.mix, p.mm, p.upper}]
		if !ok {
			at[place{p.mix, p.mm, p.upper}] = len(out)
			out = append(out, p)
			continue
		}
		out[k].n, out[k].share, out[k].y = out[k].n+p.n, out[k].share+p.share, out[k].y+p.y
	}
	return out
}

func wide(v []int) []int64 {
	out := make([]int64, len(v))
	for i, x := range v {
		out[i] = int64(x)
	}
	return out
}

// cut cuts the mixes by expected trouble into bands of about as many events; a band
// without dentures or events joins the one before it.
func (f *doseFit) cut(rate []float64, patterns []dosePattern) {
	y, events, dentures := make([]int64, len(rate)), int64(0), int64(0)
	for _, p := range patterns {
		y[p.mix-1] += p.y
		events, dentures = events+p.y, dentures+p.n
	}
	bands := max(1, min(doseBands, events/doseBandEvents, dentures/doseBandN))
	order := make([]int, len(rate))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case rate[a] < rate[b]:
			return -1
		case rate[a] > rate[b]:
			return 1
		}
		return a - b
	})
	f.band, f.bands = make([]int, len(rate)), 0
	before, last, held := int64(0), -1, int64(0)
	for i := 0; i < len(order); {
		end, own := i, int64(0)
		for end < len(order) && rate[order[end]] == rate[order[i]] { // alike once levels were merged
			own += y[order[end]]
			end++
		}
		b := min(int(bands)-1, int(bands*(2*before+own)/(2*max(events, 1))))
		if b != last && (last < 0 || held > 0) {
			f.bands, held = f.bands+1, 0
		}
		last, held, before = b, held+own, before+own
		for ; i < end; i++ {
			f.band[order[i]] = f.bands - 1
		}
	}
}

// fit finds curve and straight line; false where the data cannot settle them.
func (f *doseFit) fit() (bool, error) {
	strata := 0
	for _, c := range f.cells {
		strata = max(strata, c.cell/f.bands+1)
	}
	f.takePart(strata)
	width := len(f.knots) - 1
	f.terms = make([][]float64, len(f.values))
	var curve, line []float64
	for i, v := range f.values {
		terms, err := stats.SplineBasis(v.mm(), f.knots)
		if err != nil {
			return false, err
		}
		f.terms[i] = terms
		for b := range f.bands {
			mark := make([]float64, f.bands-1)
			if b > 0 {
				mark[b-1] = 1
			}
			curve, line = append(append(curve, terms...), mark...), append(append(line, v.mm()), mark...)
		}
	}
	var cells []stats.StratumCell
	for _, c := range f.cells {
		if s := c.cell / f.bands; f.taking[s] {
			cells = append(cells, stats.StratumCell{Stratum: s, Row: c.value*f.bands + c.cell%f.bands, Events: float64(c.y), Size: float64(c.share) / 1e9})
		}
	}
	var errCurve, errLine error
	f.curve, errCurve = stats.StratifyPoisson(curve, width+f.bands-1, cells, strata)
	f.line, errLine = stats.StratifyPoisson(line, f.bands, cells, strata)
	for _, err := range []error{errCurve, errLine} {
		if errors.Is(err, stats.ErrNoData) || errors.Is(err, stats.ErrNoAnswer) || errors.Is(err, stats.ErrNoConvergence) {
			return false, nil
		}
		if err != nil {
			return false, err
		}
	}
	for j := range width {
		if math.IsNaN(f.curve.Coef[j]) {
			return false, nil
		}
	}
	return true, nil
}

// takePart marks the strata with an event and more than one value, and counts.
func (f *doseFit) takePart(strata int) {
	events, value, several := make([]int64, strata), make([]int, strata), make([]bool, strata)
	for i := range value {
		value[i] = -1
	}
	for _, c := range f.cells {
		s := c.cell / f.bands
		events[s] += c.y
		several[s] = several[s] || value[s] >= 0 && value[s] != c.value
		value[s] = c.value
	}
	f.taking, f.n, f.y, f.leftOut, f.compared = make([]bool, strata), 0, 0, 0, 0
	for s := range f.taking {
		if f.taking[s] = several[s] && events[s] > 0; f.taking[s] {
			f.compared++
		}
	}
	for _, c := range f.cells {
		if f.taking[c.cell/f.bands] {
			f.n, f.y = f.n+c.n, f.y+c.y
		} else {
			f.leftOut += c.n
		}
	}
}

// pullOf is what a row moves coefficient k by, per event beyond those fitted: a row of
// the inverse information times the design row, here split into what the columns from
// and to of the row bring.
func pullOf(fit *stats.StratifiedPoisson, k, from int, row []float64) float64 {
	sum := 0.0
	for j, v := range row {
		if v != 0 && !math.IsNaN(v) {
			sum += fit.Inverse.At(k, from+j) * v
		}
	}
	return sum
}

// at is the curve's log rate relative to all terms being zero.
func (f *doseFit) at(terms []float64) float64 {
	sum := 0.0
	for j, v := range terms {
		sum += f.curve.Coef[j] * v
	}
	return sum
}

// timesBand is what a band multiplies events by; from is the place of its first column.
func (f *doseFit) timesBand(fit *stats.StratifiedPoisson, from, band int) float64 {
	if band == 0 || math.IsNaN(fit.Coef[from+band-1]) {
		return 1
	}
	return math.Exp(fit.Coef[from+band-1])
}

// cellPull is a cell's part of the pull on coefficient k: its band's column less the mean
// of its stratum.
func (f *doseFit) cellPull(fit *stats.StratifiedPoisson, k, from, p, stratum, band int) float64 {
	if k >= from {
		return 0
	}
	pull := -pullOf(fit, k, 0, fit.Mean[stratum*p:(stratum+1)*p])
	if band > 0 {
		pull += fit.Inverse.At(k, from+band-1)
	}
	return fit.Events * pull
}
