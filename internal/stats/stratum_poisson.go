package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// StratumCell counts the events of the observations in one stratum that share a row of
// the design, and the size they are held against.
type StratumCell struct {
	Stratum, Row int
	Events, Size float64
}

// StratifiedPoisson is a Poisson regression whose strata each have a level of their own.
// Coef and the rows of Inverse follow the columns; a column that does not vary within
// strata, or is a combination of those before it, has a NaN coefficient and zeros in
// Inverse. Inverse is the inverse information, the covariance if events follow a Poisson
// law. Base is each stratum's events per size at an all-zero row, and Mean (one row
// for each stratum) the columns' mean weighted by fitted events; both are 0 in strata
// without events.
type StratifiedPoisson struct {
	Coef    []float64
	Inverse *mat.SymDense
	Base    []float64
	Mean    []float64
	Events  float64
}

// StratifyPoisson fits events = Base(stratum) size exp(row . Coef) by conditional
// likelihood: given its total, the events of a stratum are multinomial, so that levels
// of strata are never searched for. The estimate is that of a Poisson regression with
// a factor for the stratum and the logarithm of size as offset. Rows is row-major with
// p columns; strata are numbered from 0. A stratum without events tells nothing. Events
// and sizes are >= 0. No event at all is ErrNoData, no column that varies within a
// stratum ErrNoAnswer. Reference: Hausman, Hall & Griliches 1984, Econometrica
// 52:909; Cameron & Trivedi 2013, Regression Analysis of Count Data, section 9.4.
func StratifyPoisson(rows []float64, p int, cells []StratumCell, strata int) (*StratifiedPoisson, error) {
	f := &stratumSearch{rows: rows, p: p, cells: cells, totals: make([]float64, strata)}
	if err := f.check(strata); err != nil {
		return nil, err
	}
	out := &StratifiedPoisson{Coef: make([]float64, p)}
	for _, t := range f.totals {
		out.Events += t
	}
	if out.Events == 0 {
		return nil, fmt.Errorf("%w: no event in any stratum", ErrNoData)
	}
	loglik, score, info := f.at(out.Coef, nil)
	kept := varying(info)
	if len(kept) == 0 {
		return nil, fmt.Errorf("%w: no column varies within strata", ErrNoAnswer)
	}
	if len(kept) < p {
		loglik, score, info = f.at(out.Coef, kept)
	}
	inverse, err := f.newton(out.Coef, kept, loglik, score, info)
	if err != nil {
		return nil, err
	}
	out.Inverse = mat.NewSymDense(p, nil)
	for a, j := range kept {
		for b := a; b < len(kept); b++ {
			out.Inverse.SetSym(j, kept[b], inverse.At(a, b))
		}
	}
	_, times := f.predicted(out.Coef)
	out.Base, out.Mean = f.levels(times)
	next := 0
	for j := range out.Coef {
		if next < len(kept) && kept[next] == j {
			next++
			continue
		}
		out.Coef[j] = math.NaN()
	}
	return out, nil
}

// stratumSearch holds the data while the coefficients are searched for.
type stratumSearch struct {
	rows   []float64
	p      int
	cells  []StratumCell
	totals []float64 // events by stratum
}

func (f *stratumSearch) check(strata int) error {
	if f.p < 1 || strata < 0 || len(f.rows)%f.p != 0 {
		return fmt.Errorf("%w: %d numbers in rows of %d, %d strata", ErrBadInput, len(f.rows), f.p, strata)
	}
	for _, v := range f.rows {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("%w: a column is %v", ErrBadInput, v)
		}
	}
	for i, c := range f.cells {
		if c.Stratum < 0 || c.Stratum >= strata || c.Row < 0 || (c.Row+1)*f.p > len(f.rows) {
			return fmt.Errorf("%w: cell %d stands in stratum %d with row %d", ErrBadInput, i, c.Stratum, c.Row)
		}
		if !(c.Events >= 0 && c.Size >= 0) || math.IsInf(c.Events+c.Size, 0) || c.Size == 0 && c.Events > 0 {
			return fmt.Errorf("%w: cell %d has %v events on size %v", ErrBadInput, i, c.Events, c.Size)
		}
		f.totals[c.Stratum] += c.Events
	}
	return nil
}

func (f *stratumSearch) row(i int) []float64 { return f.rows[i*f.p : (i+1)*f.p] }

// predicted is the linear predictor of every row, and its exponential: cells are many, rows
// few.
func (f *stratumSearch) predicted(coef []float64) (eta, times []float64) {
	eta = make([]float64, len(f.rows)/f.p)
	times = make([]float64, len(eta))
	for i := range eta {
		eta[i] = dot(coef, f.row(i))
		times[i] = math.Exp(eta[i])
	}
	return eta, times
}

// levels are each stratum's events per size at an all-zero row and its mean row.
func (f *stratumSearch) levels(times []float64) (base, mean []float64) {
	base, mean = make([]float64, len(f.totals)), make([]float64, len(f.totals)*f.p)
	for _, c := range f.cells {
		if f.totals[c.Stratum] == 0 {
			continue
		}
		w := c.Size * times[c.Row]
		base[c.Stratum] += w
		for j, v := range f.row(c.Row) {
			mean[c.Stratum*f.p+j] += w * v
		}
	}
	for s, w := range base {
		if w == 0 {
			continue
		}
		for j := range f.p {
			mean[s*f.p+j] /= w
		}
		base[s] = f.totals[s] / w
	}
	return base, mean
}

// at is the conditional log-likelihood without constants, its score and its information.
// Only the columns kept are filled, all of them for nil. Squares are summed three cells at
// a time, as crossWeighted does.
func (f *stratumSearch) at(coef []float64, kept []int) (loglik float64, score []float64, info *mat.SymDense) {
	if kept == nil {
		for j := range f.p {
			kept = append(kept, j)
		}
	}
	eta, times := f.predicted(coef)
	base, mean := f.levels(times)
	level := make([]float64, len(base))
	for s, b := range base {
		level[s] = math.Log(b)
	}
	m := len(kept)
	score = make([]float64, m)
	sums := make([]float64, m*m)
	rows, weights, held := [3][]float64{make([]float64, m), make([]float64, m), make([]float64, m)}, [3]float64{}, 0
	for _, c := range f.cells {
		if base[c.Stratum] == 0 || c.Size == 0 {
			continue
		}
		row, middle, d := f.row(c.Row), mean[c.Stratum*f.p:(c.Stratum+1)*f.p], rows[held]
		mu := base[c.Stratum] * c.Size * times[c.Row]
		loglik += c.Events * (eta[c.Row] + level[c.Stratum])
		beyond := c.Events - mu
		for a, j := range kept {
			v := row[j] - middle[j]
			d[a] = v
			score[a] += v * beyond
		}
		weights[held] = mu
		if held++; held == len(rows) {
			addThree(sums, rows, weights)
			held = 0
		}
	}
	for i := range held {
		for a, v := range rows[i] {
			addScaled(sums[a*m+a:a*m+m], weights[i]*v, rows[i][a:])
		}
	}
	return loglik, score, mat.NewSymDense(m, sums)
}

// varying lists the columns with information of their own: what remains of each after
// those before it are taken out (the pivots of a Cholesky decomposition).
func varying(info *mat.SymDense) []int {
	n := info.SymmetricDim()
	var kept []int
	var l [][]float64 // rows of the factor, for the columns kept
	for j := range n {
		row, left := make([]float64, len(kept)), info.At(j, j)
		for a, k := range kept {
			row[a] = (info.At(j, k) - dot(row[:a], l[a][:a])) / l[a][a]
			left -= row[a] * row[a]
		}
		if left > aliasTolerance*info.At(j, j) {
			kept, l = append(kept, j), append(l, append(row, math.Sqrt(left)))
		}
	}
	return kept
}

// newton searches from coef, which it changes, and returns the inverse information of
// the columns kept. Loglik, score and info are what at says of coef.
func (f *stratumSearch) newton(coef []float64, kept []int, loglik float64, score []float64, info *mat.SymDense) (*mat.SymDense, error) {
	next := make([]float64, len(coef))
	for range maxIterations {
		inverse, ok := inverseSym(info)
		if !ok {
			break
		}
		var step mat.VecDense
		step.MulVec(inverse, mat.NewVecDense(len(score), score))
		still := dot(step.RawVector().Data, score) <= decrementTolerance
		moved := false
		for scale := 1.0; scale > 1e-12 && !moved; scale /= 2 {
			copy(next, coef)
			for a, j := range kept {
				next[j] += scale * step.AtVec(a)
			}
			l, s, i := f.at(next, kept)
			if moved = l >= loglik-1e-10*(1+math.Abs(loglik)); moved {
				copy(coef, next)
				loglik, score, info = l, s, i
			}
		}
		if still {
			if inverse, ok = inverseSym(info); ok {
				return inverse, nil
			}
		}
		if !moved {
			break
		}
	}
	return nil, fmt.Errorf("%w: regression within %d strata", ErrNoConvergence, len(f.totals))
}
