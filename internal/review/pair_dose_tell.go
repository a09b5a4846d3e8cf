package review

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"afterfit/internal/stats"
)

// variance is that of the contrast in the curve's terms: the robust one, and never below
// that of a Poisson law, since with few events a robust variance is poorly known.
func (f *doseFit) variance(terms []float64) float64 {
	robust, model := 0.0, 0.0
	for i, a := range terms {
		for j, b := range terms {
			robust += a * b * f.robust.At(i, j)
			model += a * b * f.curve.Inverse.At(i, j)
		}
	}
	return math.Max(robust, model)
}

// doseSteps is how many points a curve is drawn from at the most.
const doseSteps = 40

// tell writes curve, slope and tests into the answer.
func (f *doseFit) tell(d *Dose) error {
	low, high := f.middleRange(0.01), f.middleRange(0.99)
	reference := math.Min(math.Max(float64(d.Reference), low), high)
	base, err := stats.SplineBasis(reference, f.knots)
	if err != nil {
		return err
	}
	d.Reference = Num(reference)
	for _, k := range f.knots {
		d.Knots = append(d.Knots, Num(k))
	}
	standard := f.standard(base)
	step := 0.25
	for (high-low)/step > doseSteps {
		step *= 2
	}
	for i := int(math.Ceil(low / step)); float64(i)*step <= high; i++ {
		p, err := f.point(float64(i)*step, base, standard)
		if err != nil {
			return err
		}
		d.Curve = append(d.Curve, p)
	}
	step = 1.0
	if high-low < 4 {
		step = 0.5
	}
	for i := int(math.Ceil(low / step)); float64(i)*step <= high; i++ {
		p, err := f.point(float64(i)*step, base, standard)
		if err != nil {
			return err
		}
		for _, v := range f.values {
			if math.Floor(v.mm()/step+0.5) == float64(i) {
				p.N, p.Events = p.N+v.n, p.Events+v.y
			}
		}
		d.At = append(d.At, p)
	}
	flat, straight := f.tests()
	d.Flat, d.Bent = Num(flat), Num(straight)
	f.slope(d)
	return nil
}

// middleRange is the value below which a share of the dentures lies.
func (f *doseFit) middleRange(share float64) float64 {
	total, before := int64(0), int64(0)
	for _, v := range f.values {
		total += v.n
	}
	for _, v := range f.values {
		if before += v.n; float64(before) >= share*float64(total) {
			return v.mm()
		}
	}
	return f.values[len(f.values)-1].mm()
}

// standard is events per 100 dentures had all those compared had the reference, each in
// their own stratum and band and followed to the end of the window.
func (f *doseFit) standard(base []float64) float64 {
	at, events, share := math.Exp(f.at(base)), 0.0, 0.0
	for _, c := range f.cells {
		if s := c.cell / f.bands; f.taking[s] {
			size := float64(c.share) / 1e9
			events += at * f.curve.Base[s] * f.timesBand(f.curve, len(f.knots)-1, c.cell%f.bands) * size
			share += size
		}
	}
	return 100 * events / share
}

func (f *doseFit) point(mm float64, base []float64, standard float64) (DosePoint, error) {
	terms, err := stats.SplineBasis(mm, f.knots)
	if err != nil {
		return DosePoint{}, err
	}
	away := make([]float64, len(terms))
	for i := range terms {
		away[i] = terms[i] - base[i]
	}
	log := f.at(away)
	half := stats.TwoSidedZ(f.level) * math.Sqrt(f.variance(away))
	ratio, low, high := math.Exp(log), math.Exp(log-half), math.Exp(log+half)
	return DosePoint{MM: Num(mm), Rate: Num(standard * ratio), Low: Num(standard * low), High: Num(standard * high),
		Ratio: Num(ratio), RatioLow: Num(low), RatioHigh: Num(high)}, nil
}

// tests are the P values that the curve is level and that it is straight.
func (f *doseFit) tests() (flat, straight float64) {
	return f.joint(0), f.joint(1)
}

// joint is the P value that all terms from the one given are zero, by Wald's statistic
// with the robust covariance or that of a Poisson law, whichever is more careful.
func (f *doseFit) joint(from int) float64 {
	k := len(f.knots) - 1 - from
	b := mat.NewVecDense(k, f.curve.Coef[from:from+k])
	least := math.Inf(1)
	for _, cov := range []*mat.SymDense{f.robust, f.curve.Inverse} {
		part := mat.NewSymDense(k, nil)
		for i := range k {
			for j := i; j < k; j++ {
				part.SetSym(i, j, cov.At(from+i, from+j))
			}
		}
		var c mat.Cholesky
		if !c.Factorize(part) || c.Cond() > 1e12 {
			return math.NaN()
		}
		var solved mat.VecDense
		if err := c.SolveVecTo(&solved, b); err != nil {
			return math.NaN()
		}
		least = math.Min(least, mat.Dot(b, &solved))
	}
	_, p, err := stats.ChiSquareCDF(least, float64(k))
	if err != nil {
		return math.NaN()
	}
	return p
}

// slope is the ratio for each mm along the straight line.
func (f *doseFit) slope(d *Dose) {
	half := stats.TwoSidedZ(f.level) * math.Sqrt(f.lineVariance())
	b := f.line.Coef[0]
	d.Slope.Value, d.Slope.Low, d.Slope.High = Num(math.Exp(b)), Num(math.Exp(b-half)), Num(math.Exp(b+half))
	d.Slope.N, d.Slope.Events = f.n, f.y
	d.Corrected.N, d.Corrected.Events = f.n, f.y
}

func (f *doseFit) lineVariance() float64 { return math.Max(f.lineRobust, f.line.Inverse.At(0, 0)) }
