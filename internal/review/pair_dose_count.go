package review

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// countValues counts dentures and events at every value, and marks each denture's.
func (f *doseFit) countValues(b *pairBasis) {
	d, read, o := f.told, b.d.values[f.told.Exposure], b.d.outcome(f.told.Outcome)
	f.of = make([]int32, b.d.n)
	present := make([]int32, 0, b.d.n)
	for i, e2 := range read {
		f.of[i] = -1
		switch {
		case o.shareOf(i) == 0:
		case e2 == noValue:
			d.Missing++
		default:
			f.of[i] = int32(len(present))
			present = append(present, e2)
		}
	}
	if len(present) > 0 {
		least, most := slices.Min(present), slices.Max(present)
		for k := range present {
			present[k] -= least
		}
		distinct, place := rank(present, int64(most-least)+1)
		for _, e2 := range distinct {
			f.values = append(f.values, doseCount{e2: e2 + int64(least), known: true})
		}
		for i, at := range f.of {
			if at < 0 {
				continue
			}
			f.of[i] = place(present[at])
			v := &f.values[f.of[i]]
			v.n, v.y = v.n+1, v.y+o.events(i)
		}
	}
	for _, v := range f.values {
		d.Values = append(d.Values, DoseValue{Num(v.mm()), v.n, v.y})
		d.N, d.Events = d.N+v.n, d.Events+v.y
	}
}

// countPatterns counts dentures and events by case mix, arch and the value to the whole
// millimetre; values beyond the outer knots count with these.
func (f *doseFit) countPatterns(b *pairBasis) []dosePattern {
	least, most := int(math.Round(f.knots[0])), int(math.Round(f.knots[len(f.knots)-1]))
	whole := make([]int, len(f.values))
	for k, v := range f.values {
		whole[k] = max(least, min(most, int(math.Round(v.mm())))) - least
	}
	o, width := b.d.outcome(f.told.Outcome), most-least+1
	all := make([]dosePattern, 2*len(f.set.coding.of)*width)
	for i, k := range f.of {
		if k < 0 {
			continue
		}
		p := &all[int(f.set.of[i])*width+whole[k]]
		p.n, p.share, p.y = p.n+1, p.share+o.shareOf(i), p.y+o.events(i)
	}
	var out []dosePattern
	for at, p := range all {
		if p.n > 0 {
			p.mix, p.upper, p.mm = at/width/2+1, at/width%2 == 1, at%width+least
			out = append(out, p)
		}
	}
	return out
}

// cellOf is the number of a denture's stratum and band.
func (f *doseFit) cellOf(b *pairBasis, i int) int {
	return int(b.place[i])*f.bands + f.band[f.set.of[i]/2]
}

// countCells counts dentures and events by cell and value, in this order.
func (f *doseFit) countCells(b *pairBasis) {
	o, width := b.d.outcome(f.told.Outcome), int64(len(f.values))
	keys := make([]int64, 0, len(f.of))
	for i, k := range f.of {
		if k >= 0 {
			keys = append(keys, int64(f.cellOf(b, i))*width+int64(k))
		}
	}
	distinct, place := rank(keys, int64(b.places()*f.bands)*width)
	f.cells = make([]doseCell, len(distinct))
	for c, key := range distinct {
		f.cells[c].cell, f.cells[c].value = int(key/width), int(key%width)
	}
	at := 0
	for i, k := range f.of {
		if k >= 0 {
			c := &f.cells[place(keys[at])]
			c.n, c.y, c.share = c.n+1, c.y+o.events(i), c.share+o.shareOf(i)
			at++
		}
	}
}

// dosePart is what a cell or a value brings to a denture's pulls: on the three terms of
// the curve and on the straight line. Rates multiply; pulls add up.
type dosePart struct {
	rate, lineRate float64 // events for each share
	pull           [4]float64
}

// parts are what cells and values bring.
func (f *doseFit) parts() (cells, values []dosePart) {
	width, p := len(f.knots)-1, len(f.knots)-1+f.bands-1
	cells, values = make([]dosePart, len(f.taking)*f.bands), make([]dosePart, len(f.values))
	for i := range cells {
		s, band := i/f.bands, i%f.bands
		if !f.taking[s] {
			continue
		}
		cells[i].rate, cells[i].lineRate = f.curve.Base[s]*f.timesBand(f.curve, width, band), f.line.Base[s]*f.timesBand(f.line, 1, band)
		for k := range width {
			cells[i].pull[k] = f.cellPull(f.curve, k, width, p, s, band)
		}
		cells[i].pull[3] = f.cellPull(f.line, 0, 1, f.bands, s, band)
	}
	for i, v := range f.values {
		values[i].rate, values[i].lineRate = math.Exp(f.at(f.terms[i])), math.Exp(f.line.Coef[0]*v.mm())
		for k := range width {
			values[i].pull[k] = f.curve.Events * pullOf(f.curve, k, 0, f.terms[i])
		}
		values[i].pull[3] = f.line.Events * pullOf(f.line, 0, 0, []float64{v.mm()})
	}
	return cells, values
}

// sumSquares makes the covariances robust for patients, with the factor G/(G-1) for G
// patients. A denture's pull is what it moves a coefficient by, times the events in all;
// pulls are counted in whole billionths, so that sums are the same in any order.
func (f *doseFit) sumSquares(b *pairBasis) {
	cells, values := f.parts()
	o := b.d.outcome(f.told.Outcome)
	var curve [3][3]wideSum
	var line wideSum
	for p := range len(b.d.patients) - 1 {
		var sum [4]int64
		taken := false
		for i := int(b.d.patients[p]); i < int(b.d.patients[p+1]); i++ {
			if f.of[i] < 0 || !f.taking[b.place[i]] {
				continue
			}
			taken = true
			c, v := &cells[f.cellOf(b, i)], &values[f.of[i]]
			y, share := float64(o.events(i)), float64(o.shareOf(i))/1e9
			beyond, lineBeyond := y-share*c.rate*v.rate, y-share*c.lineRate*v.lineRate
			for k := range 3 {
				sum[k] += int64(math.RoundToEven(scoreUnit * (c.pull[k] + v.pull[k]) * beyond))
			}
			sum[3] += int64(math.RoundToEven(scoreUnit * (c.pull[3] + v.pull[3]) * lineBeyond))
		}
		if !taken {
			continue
		}
		f.patients++
		for i := range 3 {
			for j := i; j < 3; j++ {
				curve[i][j].add(sum[i], sum[j])
			}
		}
		line.add(sum[3], sum[3])
	}
	f.told.Patients = f.patients
	g := float64(f.patients)
	few := g / (g - 1) / (f.curve.Events * f.curve.Events) / (scoreUnit * scoreUnit)
	width := len(f.knots) - 1
	f.robust = mat.NewSymDense(width, nil)
	for i := range width {
		for j := i; j < width; j++ {
			f.robust.SetSym(i, j, few*curve[i][j].value())
		}
	}
	f.lineRobust = few * line.value()
}
