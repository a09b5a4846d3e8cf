package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// coxRisk holds, for one value of the coefficients, what the risk set of every
// event time contributes. With S and D the sums over the risk set and over the
// observations with the event of hazard r (0) and of r times the design row (1), all
// divided by S0 so that no square leaves the range of numbers, and with the steps
// phi_i = 1 - c_i D0 (c_i = i/d for Efron, 0 for Breslow, i = 0..d-1), one time needs
// only 1/S0 and the sums over i of
//
//	1/phi, c/phi, 1/phi^2, c/phi^2, c^2/phi^2 and log phi.
//
// The sums of r x x' over risk sets, which would cost a square of the columns for
// every row, are never formed: summed over times they are the patterns' expected
// events times x x'.
type coxRisk struct {
	m             int
	hazard        []float64 // exp(eta - shift of the stratum), by pattern
	scaled        []float64 // hazard, and hazard times the design row, by pattern
	logLik        float64
	inverse       []float64 // 1/S0
	one, c        []float64 // sums of 1/phi and c/phi
	one2, c2, cc2 []float64 // sums of 1/phi^2, c/phi^2 and c^2/phi^2
	s1, d1        []float64 // by event time, m columns, divided by S0
	eventX        []float64 // sum of the design over the events, the same for any coefficients
	shift         []float64 // by stratum
	s0, d0        float64
	sum, deaths   []float64
	lateDeaths    []float64
	spans, part   []float64 // by event time, m+1 numbers, see spread; nil unless rows enter late
}

func newCoxRisk(x *coxIndex, q []float64, m int) *coxRisk {
	k := len(x.times)
	r := &coxRisk{m: m, hazard: make([]float64, len(x.weight)), shift: make([]float64, len(x.labels))}
	for _, v := range []*[]float64{&r.inverse, &r.one, &r.c, &r.one2, &r.c2, &r.cc2} {
		*v = make([]float64, k)
	}
	for _, v := range []*[]float64{&r.s1, &r.d1, &r.eventX} {
		*v = make([]float64, k*m)
	}
	r.scaled = make([]float64, len(x.weight)*(m+1))
	r.sum, r.deaths, r.lateDeaths = make([]float64, m+1), make([]float64, m+1), make([]float64, m+1)
	if x.late != nil {
		r.spans, r.part = make([]float64, k*(m+1)), make([]float64, k*(m+1))
	}
	for t := range k {
		for i := x.first.start[t]; i < x.first.start[t+1]; i++ {
			if x.first.event[i] {
				addScaled(r.eventX[t*m:t*m+m], x.first.count[i], q[int(x.first.pattern[i])*m:])
			}
		}
	}
	return r
}

func addScaled(to []float64, f float64, row []float64) {
	row = row[:len(to)]
	for k, v := range row {
		to[k] += f * v
	}
}

// evaluate makes the one pass over the rows, from the last event time back, and
// returns the log partial likelihood (NaN or -Inf where eta is out of range).
func (r *coxRisk) evaluate(x *coxIndex, q, offset, gamma []float64) float64 {
	r.setHazards(x, q, offset, gamma)
	r.spread(x)
	for s := range x.labels {
		clear(r.sum)
		for t := x.base[s+1] - 1; t >= x.base[s]; t-- {
			r.gather(x, t)
			r.steps(x, t)
		}
	}
	return r.logLik
}

// setHazards scales each stratum so that its largest hazard is 1.
func (r *coxRisk) setHazards(x *coxIndex, q, offset, gamma []float64) {
	for s := range r.shift {
		r.shift[s] = math.Inf(-1)
	}
	for j := range r.hazard {
		r.hazard[j] = dot(gamma, q[j*r.m:j*r.m+r.m]) + offset[j]
		if s := x.stratum[j]; x.weight[j] > 0 && r.hazard[j] > r.shift[s] {
			r.shift[s] = r.hazard[j]
		}
	}
	r.logLik = 0
	for j, eta := range r.hazard {
		if x.weight[j] == 0 {
			r.hazard[j] = 0
			continue
		}
		eta -= r.shift[x.stratum[j]]
		r.logLik += x.patternEvents[j] * eta
		r.hazard[j] = math.Exp(eta)
	}
	w := r.m + 1
	for j, h := range r.hazard {
		to := r.scaled[j*w : j*w+w]
		to[0] = h
		for k, v := range q[j*r.m : j*r.m+r.m] {
			to[k+1] = h * v
		}
	}
}

// gather brings the risk set to event time t.
func (r *coxRisk) gather(x *coxIndex, t int) {
	clear(r.deaths)
	clear(r.lateDeaths)
	b, m, w := &x.first, r.m, r.m+1
	base := int32(x.base[x.timeStratum[t]])
	for i := b.start[t]; i < b.start[t+1]; i++ {
		to := r.sum
		switch late := b.lo[i] != base; {
		case late && !b.event[i]:
			continue
		case late:
			to = r.lateDeaths
		case b.event[i]:
			to = r.deaths
		}
		j := int(b.pattern[i])
		addScaled(to, b.count[i], r.scaled[j*w:j*w+w])
	}
	addScaled(r.sum, 1, r.deaths)
	addScaled(r.deaths, 1, r.lateDeaths)
	s1 := r.s1[t*m : t*m+m]
	r.s0, r.d0 = r.sum[0], r.deaths[0]
	copy(s1, r.sum[1:])
	copy(r.d1[t*m:t*m+m], r.deaths[1:])
	if x.late != nil {
		r.s0 += r.spans[t*w]
		addScaled(s1, 1, r.spans[t*w+1:t*w+w])
	}
}

// steps sums over the steps of one event time.
func (r *coxRisk) steps(x *coxIndex, t int) {
	d := x.deaths[t]
	r.inverse[t] = 1 / r.s0
	for k := t * r.m; k < (t+1)*r.m; k++ {
		r.s1[k], r.d1[k] = r.s1[k]/r.s0, r.d1[k]/r.s0
	}
	r.logLik -= d * math.Log(r.s0)
	if x.opt.Breslow {
		r.one[t], r.one2[t] = d, d
		return
	}
	tied := r.d0 / r.s0
	var one, c1, one2, c2, cc2, logs float64
	product := 1.0
	for i := 0.0; i < d; i++ {
		c := i / d
		phi := 1 - c*tied
		f := 1 / phi
		one, c1 = one+f, c1+c*f
		f *= f
		one2, c2, cc2 = one2+f, c2+c*f, cc2+c*c*f
		// One logarithm for many steps, as long as the product is in range.
		if product *= phi; !(product > 1e-200 && product < 1e200) {
			logs += math.Log(product/phi) + math.Log(phi)
			product = 1
		}
	}
	r.one[t], r.c[t], r.one2[t], r.c2[t], r.cc2[t] = one, c1, one2, c2, cc2
	r.logLik -= logs + math.Log(product)
}

// weightAt is w[t], or 1 where w is nil.
func weightAt(w []float64, t int) float64 {
	if w == nil {
		return 1
	}
	return w[t]
}

// score is the sum over event times of w times observed minus expected design.
func (r *coxRisk) score(w []float64) []float64 {
	u := make([]float64, r.m)
	for t := range r.one {
		f, at := weightAt(w, t), t*r.m
		for k := range u {
			u[k] += f * (r.eventX[at+k] - r.one[t]*r.s1[at+k] + r.c[t]*r.d1[at+k])
		}
	}
	return u
}

// expected is each pattern's expected events, every event time weighted by w.
func (r *coxRisk) expected(x *coxIndex, w []float64) []float64 {
	total := x.cumulate(func(t int) float64 { return weightAt(w, t) * r.one[t] * r.inverse[t] })
	e := make([]float64, len(r.hazard))
	b := &x.first
	for t := range x.times {
		// An observation with the event is present in step i with share 1 - c_i.
		less := weightAt(w, t) * r.c[t] * r.inverse[t]
		for i := b.start[t]; i < b.start[t+1]; i++ {
			v := x.between(total, b.lo[i], int32(t)+1)
			if b.event[i] {
				v -= less
			}
			e[b.pattern[i]] += b.count[i] * v
		}
	}
	for j := range e {
		e[j] *= r.hazard[j]
	}
	return e
}

// information is the observed information, every event time weighted by w.
func (r *coxRisk) information(x *coxIndex, q, w []float64) *mat.SymDense {
	m := r.m
	info := crossWeighted(q, r.expected(x, w), m)
	raw := info.RawSymmetric().Data
	for t := range x.times {
		f, s, d := weightAt(w, t), r.s1[t*m:t*m+m], r.d1[t*m:t*m+m]
		for a := range m {
			bys := f * (r.one2[t]*s[a] - r.c2[t]*d[a])
			byd := f * (r.cc2[t]*d[a] - r.c2[t]*s[a])
			for b := a; b < m; b++ {
				raw[a*m+b] -= bys*s[b] + byd*d[b]
			}
		}
	}
	return info
}
