package stats

import (
	"fmt"
	"math"
	"slices"
)

// TimeCount is how many units left observation at one time, with the event or
// without. Times are 0 or later, in any unit; several rows may share a time.
type TimeCount struct {
	Time             float64
	Events, Censored int64
}

// CauseCount is TimeCount with the events split by competing cause. Every row has
// the same number of causes.
type CauseCount struct {
	Time     float64
	Events   []int64
	Censored int64
}

// maxUnits keeps sums of counts exact as float64.
const maxUnits = int64(1) << 53

// mergeCauses checks rows, sorts them by time and adds up those that share a time.
// The caller's rows are left alone.
func mergeCauses(rows []CauseCount) ([]CauseCount, error) {
	sorted := slices.Clone(rows)
	slices.SortStableFunc(sorted, func(a, b CauseCount) int {
		switch {
		case a.Time < b.Time:
			return -1
		case a.Time > b.Time:
			return 1
		}
		return 0
	})
	var merged []CauseCount
	var total int64
	for _, r := range sorted {
		n, err := checkCauses(r, len(rows[0].Events))
		if err != nil {
			return nil, err
		}
		if total += n; total > maxUnits {
			return nil, fmt.Errorf("more than %d units: %w", maxUnits, ErrBadInput)
		}
		if n == 0 {
			continue
		}
		if last := len(merged) - 1; last >= 0 && merged[last].Time == r.Time {
			merged[last].Censored += r.Censored
			for k, e := range r.Events {
				merged[last].Events[k] += e
			}
			continue
		}
		r.Events = slices.Clone(r.Events)
		merged = append(merged, r)
	}
	if total == 0 {
		return nil, fmt.Errorf("nobody under observation: %w", ErrNoData)
	}
	return merged, nil
}

// checkCauses returns how many units a row holds.
func checkCauses(r CauseCount, causes int) (int64, error) {
	if !(r.Time >= 0) || math.IsInf(r.Time, 1) {
		return 0, fmt.Errorf("time %v is not finite and at least 0: %w", r.Time, ErrBadInput)
	}
	if len(r.Events) != causes || causes == 0 {
		return 0, fmt.Errorf("time %v has %d causes, not %d: %w", r.Time, len(r.Events), causes, ErrBadInput)
	}
	var n int64
	for _, c := range append(slices.Clone(r.Events), r.Censored) {
		if c < 0 || c > maxUnits {
			return 0, fmt.Errorf("count %d at time %v: %w", c, r.Time, ErrBadInput)
		}
		if n += c; n > maxUnits {
			return 0, fmt.Errorf("more than %d units at time %v: %w", maxUnits, r.Time, ErrBadInput)
		}
	}
	return n, nil
}

// mergeCounts is mergeCauses for a single kind of event.
func mergeCounts(rows []TimeCount) ([]TimeCount, error) {
	single := make([]CauseCount, len(rows))
	for i, r := range rows {
		single[i] = CauseCount{Time: r.Time, Events: []int64{r.Events}, Censored: r.Censored}
	}
	merged, err := mergeCauses(single)
	if err != nil {
		return nil, err
	}
	out := make([]TimeCount, len(merged))
	for i, m := range merged {
		out[i] = TimeCount{Time: m.Time, Events: m.Events[0], Censored: m.Censored}
	}
	return out, nil
}
