package review

import (
	"math"
	"strings"

	"afterfit/internal/stats"
)

// tens is a count rounded to tens, halves up.
func tens(n int64) int64 { return (n + 5) / 10 * 10 }

// oneDigit is a count cut down to one digit, from 10 up.
func oneDigit(n int64) int64 {
	unit := int64(1)
	for n/unit >= 10 {
		unit *= 10
	}
	return n / unit * unit
}

// gridOf is the step on which a figure of n dentures moves: what ten events make of it,
// rounded up to a short number. Scale is what a mean per denture is
// multiplied by.
func gridOf(n int64, scale float64) float64 {
	least := 10 * scale / float64(n)
	power := math.Pow(10, math.Floor(math.Log10(least)))
	for _, m := range []float64{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10} {
		if m*power >= least*(1-1e-12) {
			return m * power
		}
	}
	return 10 * power
}

// onGrid moves a number to the nearest step, but nothing above zero to zero.
func onGrid(x, grid float64) float64 {
	if x > 0 {
		return math.Max(1, math.Round(x/grid)) * grid
	}
	return math.Round(x/grid) * grid
}

// widthOf is a distance rounded up to a fifth of itself or less, so that limits worked
// out from it are no narrower and tell little of the count.
func widthOf(x float64) float64 {
	step := 0.005
	for _, from := range []struct{ x, step float64 }{{0.05, 0.01}, {0.1, 0.02}, {0.25, 0.05}} {
		if x >= from.x {
			step = from.step
		}
	}
	return math.Ceil(x/step-1e-9) * step
}

// sharedMean is a mean cumulative figure on its grid, its limits as far from it, on the
// log scale, as they were.
func sharedMean(e Estimate, scale float64) *SharedFigure {
	f := sharedFrom(e, tens(e.N))
	grid := gridOf(f.N, scale)
	value := onGrid(float64(e.Value), grid)
	low, high := math.NaN(), math.NaN()
	switch {
	case value == 0:
		if iv, err := stats.PoissonExact(0, float64(f.N), e.Level); err == nil {
			low, high = 0, scale*iv.High
		}
	case e.High.Known() && e.Value > 0:
		by := math.Exp(widthOf(math.Log(float64(e.High / e.Value))))
		low, high = value/by, value*by
	}
	return f.at(value, low, high, grid, math.Inf(1))
}

// sharedShare is a share in % on its grid, its limits as far from it, on the scale of
// log(-log(1-p)), as they were. Where all or none have the outcome they are Wilson's.
func sharedShare(e Estimate) *SharedFigure {
	f := sharedFrom(e, tens(e.N))
	grid := gridOf(f.N, 100)
	value := math.Min(100, onGrid(float64(e.Value), grid))
	low, high := math.NaN(), math.NaN()
	g := func(x float64) float64 { return math.Log(-math.Log1p(-x / 100)) }
	back := func(y float64) float64 { return 100 * -math.Expm1(-math.Exp(y)) }
	switch {
	case value == 0 || value >= 100:
		if iv, err := stats.Wilson(int64(value)*f.N/100, f.N, e.Level); err == nil {
			low, high = 100*iv.Low, 100*iv.High
		}
	case e.High.Known() && e.Value > 0 && e.Value < 100 && e.High < 100:
		by := widthOf(g(float64(e.High)) - g(float64(e.Value)))
		low, high = back(g(value)-by), back(g(value)+by)
	}
	return f.at(value, low, high, grid, 100)
}

// sharedCount is events over dentures, both rounded to tens, with exact limits.
func sharedCount(events, n int64, level float64, unit, method, query string) *SharedFigure {
	f := &SharedFigure{Level: level, N: tens(n), Unit: unit, Method: method, Query: query}
	k := tens(events)
	f.Value, f.Low, f.High = Num(100*float64(k)/float64(f.N)), Num(math.NaN()), Num(math.NaN())
	if iv, err := stats.PoissonExact(k, float64(f.N), level); err == nil {
		f.Low, f.High = Num(100*iv.Low), Num(100*iv.High)
	}
	return f
}

// sharedPart is the share in % of k among n, both rounded to tens, with its Wilson limits.
func sharedPart(k, n int64, level float64, unit, query string) *SharedFigure {
	f := &SharedFigure{Level: level, N: tens(n), Unit: unit, Method: "Wilson, both counts rounded to tens", Query: query}
	k = min(tens(k), f.N)
	f.Value, f.Low, f.High = Num(100*float64(k)/float64(f.N)), Num(math.NaN()), Num(math.NaN())
	if iv, err := stats.Wilson(k, f.N, level); err == nil {
		f.Low, f.High = Num(100*iv.Low), Num(100*iv.High)
	}
	return f
}

// sharedRatio is a ratio to hundredths, its limits as far from it, on the log scale and
// rounded up to hundredths, as they were. Its sides' counts are not shown, so that it
// need be no coarser.
func sharedRatio(e Estimate) SharedFigure {
	f := sharedFrom(e, oneDigit(e.N))
	value := hundredths(float64(e.Value))
	by := math.Exp(math.Ceil(100*math.Log(float64(e.High/e.Value))-1e-9) / 100)
	f.Value, f.Low, f.High = Num(value), Num(hundredths(value/by)), Num(hundredths(value*by))
	return *f
}

func hundredths(x float64) float64 { return math.Round(100*x) / 100 }

// sharedFrom has all of a figure but its numbers. What its method says of few patients
// names their number, and goes.
func sharedFrom(e Estimate, n int64) *SharedFigure {
	method, _, _ := strings.Cut(e.Method, "; only ")
	return &SharedFigure{Level: e.Level, N: n, Unit: e.Unit, Method: method, Query: e.Query}
}

// at sets the figure and its limits, widened to the grid.
func (f *SharedFigure) at(value, low, high, grid, most float64) *SharedFigure {
	f.Value, f.Low, f.High = Num(value), Num(math.Max(0, math.Floor(low/grid+1e-9)*grid)), Num(math.Min(most, math.Ceil(high/grid-1e-9)*grid))
	return f
}
