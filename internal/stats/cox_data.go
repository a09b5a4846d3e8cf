package stats

import (
	"fmt"
	"math"
	"slices"
)

// CoxPatterns are the distinct combinations of covariates, offset and stratum. X
// is row-major with one column per name and no intercept. A nil Offset is zero and
// a nil Stratum puts every pattern in one stratum; stratum numbers are labels.
type CoxPatterns struct {
	Names     []string
	X, Offset []float64
	Stratum   []int
}

// CoxRow stands for Count observations of one pattern, watched over (Entry, Time]
// and ending in an event or not. Count is a whole number; a row of count 0 adds
// nothing. Entry is looked at only in fits with CoxOptions.LeftTruncated; in other
// fits everybody is at risk from the beginning, so an event at time 0 counts.
type CoxRow struct {
	Pattern     int
	Entry, Time float64
	Event       bool
	Count       float64
}

// CoxOptions are the choices of a Cox fit. The zero value is Efron's treatment of
// ties and no left truncation.
type CoxOptions struct {
	Breslow, LeftTruncated bool
}

// coxIndex is the data in the order in which a pass reads them. Event times are
// numbered over all strata, ascending within a stratum; those of stratum s are
// base[s] to base[s+1]-1. A row is at risk at the event times lo to hi-1. Only
// rows at risk at some event time take part; they are held flat, grouped by their
// last event time. Those that enter after the first event time of their stratum
// stand in late as well, which is nil where there are none.
type coxIndex struct {
	opt           CoxOptions
	labels        []int // stratum labels, ascending
	stratum       []int // dense stratum of each pattern
	times         []float64
	timeStratum   []int
	base          []int
	deaths        []float64 // observations with the event, by event time
	lo, hi        []int32   // by row
	first         coxBuckets
	late          *coxLate
	weight        []float64 // observations ever at risk at an event, by pattern
	patternEvents []float64
	observations  float64
	events        float64
}

// coxBuckets lists rows by event time: bucket k is start[k] to start[k+1]-1.
type coxBuckets struct {
	start   []int32
	pattern []int32
	lo      []int32
	count   []float64
	event   []bool
}

// indexCox checks everything that can be wrong with the data and orders them.
func indexCox(p CoxPatterns, rows []CoxRow, opt CoxOptions) (*coxIndex, error) {
	n, err := checkCoxPatterns(p)
	if err != nil {
		return nil, err
	}
	x := &coxIndex{opt: opt, weight: make([]float64, n), patternEvents: make([]float64, n)}
	for i, r := range rows {
		if err := checkCoxRow(r, n, opt); err != nil {
			return nil, fmt.Errorf("row %d: %w", i, err)
		}
		x.observations += r.Count
		if r.Event {
			x.events += r.Count
		}
	}
	if x.events == 0 {
		return nil, fmt.Errorf("%w: no events", ErrNoData)
	}
	x.numberStrata(p, n)
	x.numberTimes(rows)
	x.place(rows)
	return x, nil
}

func checkCoxPatterns(p CoxPatterns) (int, error) {
	cols := len(p.Names)
	if cols == 0 || len(p.X) == 0 {
		return 0, fmt.Errorf("%w: no columns or no patterns", ErrNoData)
	}
	n := len(p.X) / cols
	if len(p.X) != n*cols || p.Offset != nil && len(p.Offset) != n || p.Stratum != nil && len(p.Stratum) != n {
		return 0, fmt.Errorf("%w: lengths of names, design, offset or stratum differ", ErrBadInput)
	}
	for i, v := range p.X {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, fmt.Errorf("%w: column %s is %g in pattern %d", ErrBadInput, p.Names[i%cols], v, i/cols)
		}
	}
	for i, v := range p.Offset {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, fmt.Errorf("%w: offset %g in pattern %d", ErrBadInput, v, i)
		}
	}
	return n, nil
}

func checkCoxRow(r CoxRow, patterns int, opt CoxOptions) error {
	switch {
	case r.Pattern < 0 || r.Pattern >= patterns:
		return fmt.Errorf("%w: pattern %d of %d", ErrBadInput, r.Pattern, patterns)
	case math.IsNaN(r.Time) || math.IsInf(r.Time, 0):
		return fmt.Errorf("%w: time %g", ErrBadInput, r.Time)
	case !(r.Count >= 0) || r.Count != math.Trunc(r.Count) || r.Count > 1e15:
		return fmt.Errorf("%w: count %g is not a whole number", ErrBadInput, r.Count)
	case opt.LeftTruncated && !(r.Entry < r.Time):
		return fmt.Errorf("%w: entry %g is not before time %g", ErrBadInput, r.Entry, r.Time)
	}
	return nil
}

func (x *coxIndex) numberStrata(p CoxPatterns, n int) {
	given := p.Stratum
	if given == nil {
		given = make([]int, n)
	}
	x.labels = slices.Compact(slices.Sorted(slices.Values(given)))
	x.stratum = make([]int, n)
	for j, label := range given {
		x.stratum[j], _ = slices.BinarySearch(x.labels, label)
	}
}

// numberTimes lists the event times of each stratum.
func (x *coxIndex) numberTimes(rows []CoxRow) {
	seen := make([]map[float64]bool, len(x.labels))
	for _, r := range rows {
		if s := x.stratum[r.Pattern]; r.Event && r.Count > 0 {
			if seen[s] == nil {
				seen[s] = map[float64]bool{}
			}
			seen[s][r.Time] = true
		}
	}
	x.base = []int{0}
	for s, set := range seen {
		times := make([]float64, 0, len(set))
		for t := range set {
			times = append(times, t)
		}
		slices.Sort(times)
		for range times {
			x.timeStratum = append(x.timeStratum, s)
		}
		x.times = append(x.times, times...)
		x.base = append(x.base, len(x.times))
	}
	x.deaths = make([]float64, len(x.times))
}

// upTo is the number of the first event time after t in stratum s. The hint is the
// answer for the row before: rows mostly come in order of time.
func (x *coxIndex) upTo(s int, t float64, hint int32) int32 {
	low, high := x.base[s], x.base[s+1]
	for k := max(low, int(hint)); k <= min(high, int(hint)+1); k++ {
		if (k == low || x.times[k-1] <= t) && (k == high || t < x.times[k]) {
			return int32(k)
		}
	}
	for low < high {
		if middle := (low + high) / 2; x.times[middle] <= t {
			low = middle + 1
		} else {
			high = middle
		}
	}
	return int32(low)
}

// place finds every row's span of event times and fills the buckets.
func (x *coxIndex) place(rows []CoxRow) {
	x.lo, x.hi = make([]int32, len(rows)), make([]int32, len(rows))
	last := make([]int32, len(rows))
	var entry, end int32
	for i, r := range rows {
		s := x.stratum[r.Pattern]
		end = x.upTo(s, r.Time, end)
		x.lo[i], x.hi[i] = int32(x.base[s]), end
		if x.opt.LeftTruncated {
			entry = x.upTo(s, r.Entry, entry)
			x.lo[i] = entry
		}
		last[i] = -1
		if r.Count == 0 {
			x.hi[i] = x.lo[i]
		}
		if x.lo[i] == x.hi[i] {
			continue
		}
		last[i] = x.hi[i] - 1
		x.weight[r.Pattern] += r.Count
		if r.Event {
			x.deaths[last[i]] += r.Count
			x.patternEvents[r.Pattern] += r.Count
		}
	}
	x.first = x.bucket(rows, last)
	x.late = x.findLate()
}

// bucket sorts rows by key in one counting pass; rows of key -1 are left out.
func (x *coxIndex) bucket(rows []CoxRow, key []int32) coxBuckets {
	b := coxBuckets{start: make([]int32, len(x.times)+1)}
	for _, k := range key {
		if k >= 0 {
			b.start[k+1]++
		}
	}
	for k := range x.times {
		b.start[k+1] += b.start[k]
	}
	n, next := b.start[len(x.times)], slices.Clone(b.start)
	b.pattern, b.lo = make([]int32, n), make([]int32, n)
	b.count, b.event = make([]float64, n), make([]bool, n)
	for i, r := range rows {
		if k := key[i]; k >= 0 {
			at := next[k]
			next[k]++
			b.pattern[at], b.lo[at], b.count[at], b.event[at] = int32(r.Pattern), x.lo[i], r.Count, r.Event
		}
	}
	return b
}
