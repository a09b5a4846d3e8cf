package stats

import (
	"fmt"
	"math"
	"sort"
)

// Influence says how far one unit pulls the cumulative incidence of one cause at
// one time: the derivative of the estimate by the unit's weight. The squares over
// all units add to the Variance of the curve; units of one cluster are added
// before squaring.
type Influence struct {
	times   []float64
	place   []int32     // where a whole time stands in times, -1 for none; nil where some are not whole, or late
	left    [][]float64 // by time: units that left by each cause, then by censoring
	staying float64
}

// IncidenceInfluence returns the influences on the cumulative incidence of a cause
// at time t. With n at risk, d events of any cause and dk of the cause at a time,
// and S the survival before it, a unit that is still there gains
//
//	S ((its own event of the cause) - dk/n)/n + (its influence on survival) S dk/n,
//
// and one that has left goes on with the last term only.
// Reference: Efron & Tibshirani 1993, chapter 21 (infinitesimal jackknife).
func IncidenceInfluence(rows []CauseCount, cause int, t float64) (*Influence, error) {
	merged, err := mergeCauses(rows)
	if err != nil {
		return nil, err
	}
	causes := len(merged[0].Events)
	if cause < 0 || cause >= causes || math.IsNaN(t) {
		return nil, fmt.Errorf("cause %d of %d at time %v: %w", cause, causes, t, ErrBadInput)
	}
	var risk int64
	for _, r := range merged {
		risk += r.Censored + sumCounts(r.Events)
	}
	f := &Influence{}
	var frozen [][]float64 // influence on survival (as a share of it) at leaving
	var reached []float64  // incidence at each time
	var stay influence
	before, incidence := 1.0, 0.0
	for _, r := range merged {
		if !(r.Time <= t) {
			break
		}
		all := sumCounts(r.Events)
		n, d, dk := float64(risk), float64(all), float64(r.Events[cause])
		step := before * dk / n
		gain, loss := make([]float64, causes+1), make([]float64, causes+1)
		for k := range gain {
			own, ofCause := 1.0, 0.0
			if k == causes {
				own = 0
			}
			if k == cause {
				ofCause = 1
			}
			gain[k] = stay.incidence + stay.survival*step + before*(ofCause-dk/n)/n
			loss[k] = stay.survival
			if d < n {
				loss[k] -= (own - d/n) / (n - d)
			}
		}
		stay = influence{incidence: gain[causes], survival: loss[causes]}
		incidence += step
		f.times, f.left = append(f.times, r.Time), append(f.left, gain)
		frozen, reached = append(frozen, loss), append(reached, incidence)
		before *= float64(risk-all) / n
		risk -= all + r.Censored
	}
	for i := range f.left {
		for k := range f.left[i] {
			f.left[i][k] += frozen[i][k] * (incidence - reached[i])
		}
	}
	f.staying = stay.incidence
	f.findPlaces()
	return f, nil
}

// mostPlaces bounds the whole times that are looked up by position: a century of days.
const mostPlaces = 36525

// findPlaces notes where each time stands, if all are whole and none is late.
func (f *Influence) findPlaces() {
	if len(f.times) == 0 || f.times[0] < 0 || f.times[len(f.times)-1] > mostPlaces {
		return
	}
	place := make([]int32, int(f.times[len(f.times)-1])+1)
	for i := range place {
		place[i] = -1
	}
	for i, t := range f.times {
		if t != math.Trunc(t) {
			return
		}
		place[int(t)] = int32(i) //nolint:gosec // no more than mostPlaces
	}
	f.place = place
}

// Of returns the influence of a unit that left at the given time by the given
// kind: a cause, or the number of causes for censoring. Times after the one asked
// for are those of units still there. A time or kind that no row had gives NaN.
func (f *Influence) Of(time float64, kind int) float64 {
	if time >= 0 && time < float64(len(f.place)) && kind >= 0 {
		if at := int(time); float64(at) == time && f.place[at] >= 0 && kind < len(f.left[f.place[at]]) {
			return f.left[f.place[at]][kind]
		}
	}
	i := sort.SearchFloat64s(f.times, time)
	switch {
	case math.IsNaN(time):
		return time
	case i == len(f.times):
		return f.staying
	case f.times[i] != time || kind < 0 || kind >= len(f.left[i]):
		return math.NaN()
	}
	return f.left[i][kind]
}
