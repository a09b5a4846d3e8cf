package stats

import "math/bits"

// Rows that enter late are at risk over a span of event times that begins anywhere.
// Taking such a row out of a running sum again would leave nothing but rounding where
// it outweighs everybody else, so every sum here only ever adds. The event times, in
// the order of their numbers, are halved again and again, and a span is cut once: at
// the middle of the smallest block that holds it whole. What lies before that middle
// is a running sum up to it, what lies behind a running sum from it on, so a span
// costs two steps whatever its length.

// spanLevel is 0 for a span of one event time, and otherwise says that the smallest
// block with event times lo and last in different halves has halves of 2^(level-1).
func spanLevel(lo, last int32) int { return bits.Len32(uint32(lo ^ last)) }

// coxLate lists the rows that enter late by the level of their span: those of level l
// are start[l] to start[l+1]-1.
type coxLate struct {
	start             []int32
	pattern, lo, last []int32
	count             []float64
}

func (x *coxIndex) findLate() *coxLate {
	late := &coxLate{start: make([]int32, spanLevel(0, int32(max(0, len(x.times)-1)))+2)}
	x.eachLate(func(_, lo, last int32) { late.start[spanLevel(lo, last)+1]++ })
	for l := 1; l < len(late.start); l++ {
		late.start[l] += late.start[l-1]
	}
	n := late.start[len(late.start)-1]
	if n == 0 {
		return nil
	}
	late.pattern, late.lo, late.last, late.count = make([]int32, n), make([]int32, n), make([]int32, n), make([]float64, n)
	next := append([]int32{}, late.start...)
	x.eachLate(func(i, lo, last int32) {
		l := spanLevel(lo, last)
		at := next[l]
		next[l]++
		late.pattern[at], late.lo[at], late.last[at], late.count[at] = x.first.pattern[i], lo, last, x.first.count[i]
	})
	return late
}

// eachLate visits the rows of first that enter late, with their span.
func (x *coxIndex) eachLate(visit func(i, lo, last int32)) {
	b := &x.first
	for t := range x.times {
		base := int32(x.base[x.timeStratum[t]])
		for i := b.start[t]; i < b.start[t+1]; i++ {
			if b.lo[i] != base {
				visit(i, b.lo[i], int32(t))
			}
		}
	}
}

// spread sums, for every event time, the rows at risk there that entered late.
func (r *coxRisk) spread(x *coxIndex) {
	if x.late == nil {
		return
	}
	w, late := r.m+1, x.late
	clear(r.spans)
	for l := range len(late.start) - 1 {
		if late.start[l] == late.start[l+1] {
			continue
		}
		to := r.part
		if l == 0 {
			to = r.spans
		} else {
			clear(to)
		}
		for i := late.start[l]; i < late.start[l+1]; i++ {
			row := r.scaled[int(late.pattern[i])*w : int(late.pattern[i])*w+w]
			lo, last := int(late.lo[i]), int(late.last[i])
			addScaled(to[lo*w:lo*w+w], late.count[i], row)
			if l > 0 {
				addScaled(to[last*w:last*w+w], late.count[i], row)
			}
		}
		if l > 0 {
			runTo(to, w, 1<<(l-1))
			addScaled(r.spans, 1, to)
		}
	}
}

// runTo sums rows of w numbers in blocks of twice half rows: forward up to the middle
// of each block, and back down to it.
func runTo(rows []float64, w, half int) {
	n := len(rows) / w
	for t := 1; t < n; t++ {
		if t&half == 0 && t%half != 0 {
			addScaled(rows[t*w:t*w+w], 1, rows[(t-1)*w:t*w])
		}
	}
	for t := n - 2; t >= 0; t-- {
		if t&half != 0 && (t+1)%half != 0 {
			addScaled(rows[t*w:t*w+w], 1, rows[(t+1)*w:(t+2)*w])
		}
	}
}

// coxSums are sums of a quantity over event times: from the first one of a stratum on,
// and, where rows enter late, single and for each level from 1 on towards the middle of
// the block that an event time lies in.
type coxSums struct {
	from, single, middle []float64
}

// cumulate sums step over the event times of each stratum.
func (x *coxIndex) cumulate(step func(t int) float64) coxSums {
	n := len(x.times)
	out := coxSums{from: make([]float64, n)}
	for t := range n {
		out.from[t] = step(t)
	}
	if x.late != nil {
		out.single = append([]float64{}, out.from...)
		levels := len(x.late.start) - 2
		out.middle = make([]float64, levels*n)
		for l := 1; l <= levels; l++ {
			sumToMiddle(out.middle[(l-1)*n:l*n], out.single, 1<<(l-1))
		}
	}
	for t := range n {
		if t > x.base[x.timeStratum[t]] {
			out.from[t] += out.from[t-1]
		}
	}
	return out
}

// sumToMiddle sums step from each event time to the middle of its block.
func sumToMiddle(to, step []float64, half int) {
	copy(to, step)
	for t := len(to) - 2; t >= 0; t-- {
		if t&half == 0 && (t+1)%half != 0 {
			to[t] += to[t+1]
		}
	}
	for t := 1; t < len(to); t++ {
		if t&half != 0 && t%half != 0 {
			to[t] += to[t-1]
		}
	}
}

// between is the sum over event times lo to hi-1. It takes no difference of two
// sums: hazard steps of one stratum can lie many orders of magnitude apart.
func (x *coxIndex) between(s coxSums, lo, hi int32) float64 {
	last := hi - 1
	switch {
	case hi == lo:
		return 0
	case int(lo) == x.base[x.timeStratum[last]]:
		return s.from[last]
	case lo == last:
		return s.single[lo]
	}
	n := len(x.times)
	level := s.middle[(spanLevel(lo, last)-1)*n:]
	return level[lo] + level[last]
}
