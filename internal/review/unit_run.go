package review

import (
	"context"
	"fmt"
)

// beside fills everything that is judged against case mix: the models, the units, the
// course over time, what was changed on purpose, and how long until more is known.
func (q *asker) beside(ctx context.Context, f *Findings) error {
	f.Mix, f.Units, f.Times, f.HabitTimes, f.Cusums, f.Changes, f.Know = []MixFit{}, []UnitTable{}, []TimeChart{}, []TimeChart{}, []CusumChart{}, []ChangeResult{}, []Know{}
	all, err := q.dentures(ctx)
	if err != nil {
		return err
	}
	kind, lost := all.fineness()
	if lost > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("%d dentures have a period of records coarser than a %s and stand on no chart over time.", lost, kind))
	}
	d, err := q.mixRows(ctx, kind)
	if err != nil || len(d.levels) == 0 {
		return err
	}
	d.first, d.last = f.Coverage.FirstPeriod, f.Coverage.LastPeriod
	checks, err := q.unitChecks(d)
	if err != nil {
		return err
	}
	changes, err := q.byOutcome(ctx, f, d, kind, checks)
	if err != nil {
		return err
	}
	if f.Changes, err = q.finishChanges(d, changes); err != nil {
		return err
	}
	var moved []string
	for _, c := range changes {
		moved = append(moved, c.What)
	}
	f.HabitTimes, err = q.habitsOverTime(ctx, d, kind, moved)
	return err
}

// byOutcome fills what is judged outcome by outcome, several at a time, and returns the
// stated changes with their estimates in all of them.
func (q *asker) byOutcome(ctx context.Context, f *Findings, d *mixData, kind string, checks map[groupKey]DataChecks) ([]*change, error) {
	parts, changed := make([]Findings, len(q.counted())), make([][]*change, len(q.counted()))
	step := q.steps("units and charts", len(parts))
	err := onAllCores(ctx, len(parts), func(i int) (err error) {
		defer step()
		if changed[i], err = q.newChanges(kind); err != nil {
			return err
		}
		return q.oneOutcome(ctx, &parts[i], d, q.counted()[i], kind, checks, changed[i])
	})
	if err != nil {
		return nil, err
	}
	changes, err := q.newChanges(kind)
	for i, p := range parts {
		f.Mix, f.Units, f.Times = append(f.Mix, p.Mix...), append(f.Units, p.Units...), append(f.Times, p.Times...)
		f.Cusums, f.Know = append(f.Cusums, p.Cusums...), append(f.Know, p.Know...)
		for k, c := range changed[i] {
			changes[k].add(c)
		}
	}
	return changes, err
}

// oneOutcome adds what is judged against the case mix of one outcome. Its expected events
// by denture, which are large, end with it.
func (q *asker) oneOutcome(ctx context.Context, f *Findings, d *mixData, c counted, kind string, checks map[groupKey]DataChecks, changes []*change) error {
	fit, expected, err := q.mixFit(d, c)
	if err != nil || fit == nil {
		return err
	}
	f.Mix = append(f.Mix, *fit)
	tables, err := q.unitTables(fit, expected, checks)
	if err != nil {
		return err
	}
	series, order, err := expected.timeSums(kind)
	if err != nil {
		return err
	}
	if err := q.overTime(ctx, f, fit, series, order, kind); err != nil {
		return fmt.Errorf("%s over time: %w", c.outcome, err)
	}
	q.howLong(f, fit, tables, series, kind)
	f.Units = append(f.Units, tables...)
	return q.changesIn(expected, changes, perDenture(series))
}

// charted are the outcomes with control charts by site and with a CUSUM for each site
// and clinician; the others have the service's own chart.
var charted = map[string]bool{Adjustments: true, SoreSpots: true, Remake: true}

// perDenture is the mean number of events of a denture with whole follow-up.
func perDenture(series map[groupKey]*timeSeries) float64 {
	all := series[groupKey{"all", "all"}]
	if all == nil {
		return 0
	}
	var observed, share float64
	for _, x := range all.sums {
		observed, share = observed+float64(x.observed), share+x.share
	}
	if share == 0 {
		return 0
	}
	return observed / share
}

// overTime adds an outcome's charts and CUSUMs.
func (q *asker) overTime(ctx context.Context, f *Findings, fit *MixFit, series map[groupKey]*timeSeries, order []groupKey, kind string) error {
	all, mean := series[groupKey{"all", "all"}], perDenture(series)
	if all == nil || mean == 0 {
		return nil
	}
	mature := q.mature(all)
	outcome := fit.Model.Outcome
	var watched []groupKey
	for _, k := range order {
		if k.dimension == "all" || k.dimension == "site" && charted[outcome] {
			t, err := q.timeChart(series[k], kind, mature, mean)
			if err != nil {
				return err
			}
			t.Outcome, t.Dimension, t.Code = outcome, k.dimension, k.code
			f.Times = append(f.Times, t)
		}
		if k.dimension != "all" && charted[outcome] {
			watched = append(watched, k)
		}
	}
	cusums := make([]CusumChart, len(watched))
	err := onAllCores(ctx, len(watched), func(i int) error {
		k := watched[i]
		c, err := q.cusum(series[k], kind, mature, float64(fit.Model.Dispersion))
		if err != nil {
			return fmt.Errorf("%s %s: %w", k.dimension, k.code, err)
		}
		c.Outcome, c.Dimension, c.Code = outcome, k.dimension, k.code
		cusums[i] = c
		return nil
	})
	f.Cusums = append(f.Cusums, cusums...)
	return err
}
