package stats

import (
	"fmt"
	"math"
)

// EventsForHazardRatio returns the number of events in both groups together, before
// rounding, that finds a hazard ratio by the log-rank test under proportional hazards:
//
//	events = (z_alpha/2 + z_power)^2 (1 + r)^2 / (r log(ratio)^2)
//
// with r the allocation, times the design's inflation. The ratio is > 0 and not 1.
// Reference: Schoenfeld 1981, Biometrika 68:316; 1983, Biometrics 39:499.
func EventsForHazardRatio(ratio float64, d PowerDesign) (float64, error) {
	if err := d.check(); err != nil {
		return 0, err
	}
	if !(ratio > 0 && ratio <= math.MaxFloat64) || ratio == 1 {
		return 0, fmt.Errorf("hazard ratio %v: %w", ratio, ErrBadInput)
	}
	reach := d.hazardReach() / math.Log(ratio)
	return reach * reach * d.Inflation, nil
}

// hazardReach is the root of events times the log of the detectable hazard ratio.
func (d PowerDesign) hazardReach() float64 {
	za, zp := d.quantiles()
	return (za + zp) * (1 + d.Allocation) / math.Sqrt(d.Allocation)
}

// SizeTimeToEvent returns the units per group that yield the events a hazard ratio
// needs, when a share risk in (0,1) of the first group has the event by the end of its
// follow-up; that of the second follows as 1 - (1-risk)^ratio.
func SizeTimeToEvent(ratio, risk float64, d PowerDesign) (SampleSize, error) {
	if !(risk > 0 && risk < 1) {
		return SampleSize{}, fmt.Errorf("risk %v: %w", risk, ErrBadInput)
	}
	events, err := EventsForHazardRatio(ratio, d)
	if err != nil {
		return SampleSize{}, err
	}
	second := secondRisk(ratio, risk)
	out, err := d.size(events / d.Inflation / (risk + d.Allocation*second))
	if err == nil {
		out.Warnings = fewExpected(risk*float64(out.First), second*float64(out.Second))
	}
	return out, err
}

// secondRisk is the risk under a proportional hazard.
func secondRisk(ratio, risk float64) float64 { return -math.Expm1(ratio * math.Log1p(-risk)) }

// DetectableHazardRatio returns the hazard ratios that n units in the first group would
// find, on the formula of SizeTimeToEvent. Where they are far from 1 the formula is
// beyond its proper use and says no more than "only a very large effect".
func DetectableHazardRatio(risk float64, n int64, d PowerDesign) (Detectable, error) {
	units, err := d.independent(n)
	if err := firstError(d.check(), err); err != nil {
		return Detectable{}, err
	}
	if !(risk > 0 && risk < 1) {
		return Detectable{}, fmt.Errorf("risk %v: %w", risk, ErrBadInput)
	}
	reach := d.hazardReach()
	found := func(logRatio float64) bool {
		events := units * (risk + d.Allocation*secondRisk(math.Exp(logRatio), risk))
		return math.Sqrt(events)*math.Abs(logRatio) >= reach
	}
	// exp(+-300) stands for any ratio at all.
	const end = 300
	return Detectable{
		Below: nearestRatio(nearestFound(0, -end, math.Inf(-1), found)),
		Above: nearestRatio(nearestFound(0, end, math.Inf(1), found)),
	}, nil
}

// nearestRatio turns a log ratio back, keeping the marks for "none".
func nearestRatio(logRatio float64) float64 {
	if math.IsInf(logRatio, 0) {
		return logRatio
	}
	return math.Exp(logRatio)
}
