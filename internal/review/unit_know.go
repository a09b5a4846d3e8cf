package review

import (
	"math"

	"afterfit/internal/stats"
)

// howLong says for the service and for every clinician how many dentures would show a
// rate DetectRatio times the other one: for the service between two periods of equal
// size, for a clinician against all colleagues together.
func (q *asker) howLong(f *Findings, fit *MixFit, tables []UnitTable, series map[groupKey]*timeSeries, kind string) {
	mean := perDenture(series)
	if mean <= 0 {
		return
	}
	all := series[groupKey{"all", "all"}]
	phi := math.Max(1, float64(fit.Model.Dispersion))
	var total int64
	for _, x := range all.sums {
		total += x.n
	}
	if k := q.know(fit.Model.Outcome, "", mean, phi, 1, 0, pace(all, kind)); k != nil {
		f.Know = append(f.Know, *k)
	}
	for _, t := range tables {
		if t.Dimension != "clinician" {
			continue
		}
		for i := range t.Units {
			u := &t.Units[i]
			s := series[groupKey{"clinician", u.Code}]
			if s == nil || u.Ratio.N == 0 || total == u.Ratio.N {
				continue
			}
			u.Know = q.know(fit.Model.Outcome, u.Code, mean, phi, float64(total-u.Ratio.N)/float64(u.Ratio.N), u.Ratio.N, pace(s, kind))
		}
	}
}

// know works one answer out; nil where there is none. The number of colleagues'
// dentures grows along with the unit's own.
func (q *asker) know(outcome, code string, mean, phi, others float64, have int64, perMonth float64) *Know {
	d := stats.DefaultPowerDesign
	d.Allocation = others
	size, err := stats.SizeTwoRates(stats.RatePair{First: mean * q.s.DetectRatio, Second: mean, Dispersion: phi}, d)
	if err != nil {
		return nil
	}
	k := &Know{Outcome: outcome, Code: code, Ratio: q.s.DetectRatio, Need: size.First, Have: have, Pace: Num(perMonth), Months: Num(math.NaN()), Notes: []string{}}
	for _, w := range size.Warnings {
		k.Notes = append(k.Notes, w.Text)
	}
	switch more := float64(k.Need - k.Have); {
	case more <= 0:
		k.Months = 0
	case perMonth > 0:
		k.Months = Num(math.Ceil(more / perMonth))
	}
	return k
}

// pace is dentures a month over the last year of records.
func pace(s *timeSeries, kind string) float64 {
	last := min(perYear[kind], len(s.sums))
	var n int64
	for _, x := range s.sums[len(s.sums)-last:] {
		n += x.n
	}
	return float64(n) / (float64(last) * 12 / float64(perYear[kind]))
}
