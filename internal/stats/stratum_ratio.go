package stats

import (
	"fmt"
	"math"
)

// Stratum holds the two sides of a comparison among observations that are alike:
// events counted and the size that they are held against (time at risk, or events
// expected), without the exposure first and with it second.
type Stratum struct {
	Events, Size [2]float64
}

// StratumFit is a stratum after the fit. Compared says that both sides have a size;
// Share is the part of the events that the ratio gives to the exposed side, and Base
// the events per unit of size on the side without; both are 0 where not compared.
type StratumFit struct {
	Compared    bool
	Share, Base float64
}

// StratifiedRatio is a rate ratio within strata. Events and Size are summed over the
// strata that are compared; Information is that of LogRatio, the inverse of its
// variance if events follow a Poisson law.
type StratifiedRatio struct {
	LogRatio, Information float64
	Events, Size          [2]float64
	Compared              int
	Strata                []StratumFit
}

// StratifyRatio estimates one rate ratio common to all strata, each with a level of
// its own, by conditional likelihood: given the O events of a stratum those of the
// exposed side are binomial with share m1 RR / (m1 RR + m0). The estimate solves
//
//	sum of (O1 - O share) = 0
//
// and is that of a Poisson regression with a factor for the stratum and the logarithm
// of the size as offset. Counts and sizes are >= 0; strata that lack a side tell
// nothing. No stratum with both sides, or no event in those, is ErrNoData; all events
// on one side put the ratio at 0 or infinity and are ErrNoAnswer. Reference: Breslow
// & Day 1987, Statistical Methods in Cancer Research II, section 3.6.
func StratifyRatio(strata []Stratum) (StratifiedRatio, error) {
	var out StratifiedRatio
	var used []Stratum
	for i, s := range strata {
		for _, v := range []float64{s.Events[0], s.Events[1], s.Size[0], s.Size[1]} {
			if !(v >= 0) || math.IsInf(v, 0) {
				return out, fmt.Errorf("%w: stratum %d has %v events on sizes %v", ErrBadInput, i, s.Events, s.Size)
			}
		}
		if s.Size[0] == 0 || s.Size[1] == 0 {
			continue
		}
		out.Compared++
		used = append(used, s)
		for side := range 2 {
			out.Events[side] += s.Events[side]
			out.Size[side] += s.Size[side]
		}
	}
	if out.Events[0]+out.Events[1] == 0 {
		return out, fmt.Errorf("%w: no event in a stratum with both sides", ErrNoData)
	}
	if out.Events[0] == 0 || out.Events[1] == 0 {
		return out, fmt.Errorf("%w: all events lie on one side", ErrNoAnswer)
	}
	if err := out.solve(used); err != nil {
		return out, err
	}
	out.Strata = make([]StratumFit, len(strata))
	for i, s := range strata {
		if s.Size[0] > 0 && s.Size[1] > 0 {
			total, fitted := s.Events[0]+s.Events[1], s.Size[0]+s.Size[1]*math.Exp(out.LogRatio)
			out.Strata[i] = StratumFit{true, shareOf(s, out.LogRatio), total / fitted}
		}
	}
	return out, nil
}

// shareOf is the exposed side's share of a stratum's events.
func shareOf(s Stratum, logRatio float64) float64 {
	return 1 / (1 + math.Exp(math.Log(s.Size[0]/s.Size[1])-logRatio))
}

// solve is Newton's method kept inside a bracket: the score falls as the ratio grows.
func (r *StratifiedRatio) solve(used []Stratum) error {
	score := func(b float64) (u, info float64) {
		for _, s := range used {
			p, o := shareOf(s, b), s.Events[0]+s.Events[1]
			u += s.Events[1] - o*p
			info += o * p * (1 - p)
		}
		return u, info
	}
	low, high := math.Inf(-1), math.Inf(1)
	b := math.Log(r.Events[1]/r.Size[1]) - math.Log(r.Events[0]/r.Size[0])
	for range maxIterations {
		u, info := score(b)
		if u == 0 {
			r.LogRatio, r.Information = b, info
			return nil
		}
		if u > 0 {
			low = b
		} else {
			high = b
		}
		next := b + u/info
		if !(next > low && next < high) {
			next = b + math.Copysign(1, u)
			if !math.IsInf(low, 0) && !math.IsInf(high, 0) {
				next = (low + high) / 2
			}
		}
		if math.Abs(next-b) <= 1e-13*math.Max(1, math.Abs(b)) {
			r.LogRatio = next
			_, r.Information = score(next)
			return nil
		}
		b = next
	}
	return fmt.Errorf("%w: common ratio of %d strata", ErrNoConvergence, len(used))
}

// TwoSidedT is the quantile of Student's law with df > 0 degrees of freedom for a
// two-sided interval at level, which is in (0,1): 2.14 for 0.95 and 14.
func TwoSidedT(level, df float64) float64 { return tQuantile(level, df) }
