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
	logLik        float64
	inverse       []float64 // 1/S0
	one, c        []float64 // sums of 1/phi and c/phi
	one2, c2, cc2 []float64 // sums of 1/phi^2, c/phi^2 and c^2/phi^2
	s1, d1        []float64 // by event time, m columns, divided by S0
	eventX        []float64 // sum of the design over the events, the same for any coefficients
	shift         []float64 // by stratum
	s0, d0        float64
	sum, deaths   []float64
	spans         []float64 // nodes of m+1 numbers, see spread; nil unless rows enter late
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
	r.sum, r.deaths = make([]float64, m+1), make([]float64, m+1)
	if x.late {
		r.spans = make([]float64, 2*k*(m+1))
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

// coverSpan visits the nodes that together are event times lo to hi-1. The nodes are
// those of a binary tree over n leaves: leaf t is node n+t, node k covers 2k and 2k+1.
func coverSpan(n int, lo, hi int32, visit func(node int)) {
	for a, b := int(lo)+n, int(hi)+n; a < b; a, b = a/2, b/2 {
		if a%2 == 1 {
			visit(a)
			a++
		}
		if b%2 == 1 {
			b--
			visit(b)
		}
	}
}

// spread lays every row that enters late on the nodes that cover its time at risk,
// so that a risk set is a sum along one path. Taking such rows out of a running sum
// again would leave nothing but rounding where they outweigh everybody else.
func (r *coxRisk) spread(x *coxIndex, q []float64) {
	if !x.late {
		return
	}
	clear(r.spans)
	b, w := &x.first, r.m+1
	for t := range x.times {
		for i := b.start[t]; i < b.start[t+1]; i++ {
			if int(b.lo[i]) == x.base[x.timeStratum[t]] {
				continue
			}
			j := int(b.pattern[i])
			f, row := b.count[i]*r.hazard[j], q[j*r.m:j*r.m+r.m]
			coverSpan(len(x.times), b.lo[i], int32(t)+1, func(node int) {
				r.spans[node*w] += f
				addScaled(r.spans[node*w+1:node*w+w], f, row)
			})
		}
	}
}

// evaluate makes the one pass over the rows, from the last event time back, and
// returns the log partial likelihood (NaN or -Inf where eta is out of range).
func (r *coxRisk) evaluate(x *coxIndex, q, offset, gamma []float64) float64 {
	r.setHazards(x, q, offset, gamma)
	r.spread(x, q)
	for s := range x.labels {
		clear(r.sum)
		for t := x.base[s+1] - 1; t >= x.base[s]; t-- {
			r.gather(x, q, t)
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
}

// gather brings the risk set to event time t.
func (r *coxRisk) gather(x *coxIndex, q []float64, t int) {
	clear(r.deaths)
	b, m := &x.first, r.m
	base := int32(x.base[x.timeStratum[t]])
	for i := b.start[t]; i < b.start[t+1]; i++ {
		j := int(b.pattern[i])
		f, row := b.count[i]*r.hazard[j], q[j*m:j*m+m]
		if b.lo[i] == base {
			r.sum[0] += f
			addScaled(r.sum[1:], f, row)
		}
		if b.event[i] {
			r.deaths[0] += f
			addScaled(r.deaths[1:], f, row)
		}
	}
	s1 := r.s1[t*m : t*m+m]
	r.s0, r.d0 = r.sum[0], r.deaths[0]
	copy(s1, r.sum[1:])
	copy(r.d1[t*m:t*m+m], r.deaths[1:])
	for node := t + len(x.times); x.late && node > 0; node /= 2 {
		at := node * (m + 1)
		r.s0 += r.spans[at]
		addScaled(s1, 1, r.spans[at+1:at+1+m])
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

// coxSums are sums of a quantity over event times: from the first one of a stratum
// on, and on the nodes of coverSpan, where rows enter late.
type coxSums struct {
	from, nodes []float64
}

// cumulate sums step over the event times of each stratum.
func (x *coxIndex) cumulate(step func(t int) float64) coxSums {
	n := len(x.times)
	out := coxSums{from: make([]float64, n)}
	for t := range n {
		out.from[t] = step(t)
		if t > x.base[x.timeStratum[t]] {
			out.from[t] += out.from[t-1]
		}
	}
	if x.late {
		out.nodes = make([]float64, 2*n)
		for t := range n {
			out.nodes[n+t] = step(t)
		}
		for k := n - 1; k > 0; k-- {
			out.nodes[k] = out.nodes[2*k] + out.nodes[2*k+1]
		}
	}
	return out
}

// between is the sum over event times lo to hi-1. It takes no difference of two
// sums: hazard steps of one stratum can lie many orders of magnitude apart.
func (x *coxIndex) between(s coxSums, lo, hi int32) float64 {
	switch {
	case hi == lo:
		return 0
	case int(lo) == x.base[x.timeStratum[hi-1]]:
		return s.from[hi-1]
	}
	sum := 0.0
	coverSpan(len(x.times), lo, hi, func(node int) { sum += s.nodes[node] })
	return sum
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
