package review

import (
	"context"
	"errors"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// habitCount counts one habit for one clinician in its own unit.
type habitCount struct{ with, without, missing int64 }

// habitCounts counts a habit by clinician, in the order of their codes. A case is counted
// by one of its dentures, as habitPeriods says: the one that leads.
func (d *dentures) habitCounts(h habit.Habit, leads []bool) []habitCount {
	who := d.codes["clinician"]
	n := make([][notAssessable + 1]int64, len(who.levels)+1) // by side
	for i, on := range d.habits[h.Column()] {
		if h.Unit != habit.Case || leads[i] {
			n[who.at(i)][sideOf(on)]++
		}
	}
	out := make([]habitCount, len(who.levels))
	for k := range out {
		out[k] = habitCount{with: n[k][1], without: n[k][0], missing: n[k][notAssessable]}
	}
	return out
}

// leading says of every denture whether it stands for its case.
func (d *dentures) leading() []bool {
	out := make([]bool, d.n)
	for i := range out {
		out[i] = d.leads(i)
	}
	return out
}

func (q *asker) habits(ctx context.Context) ([]HabitTable, error) {
	d, err := q.dentures(ctx)
	if err != nil {
		return nil, err
	}
	leads, clinicians, counts := d.leading(), d.codes["clinician"].levels, make([][]habitCount, len(habit.Catalogue))
	err = onAllCores(ctx, len(counts), func(i int) error {
		counts[i] = d.habitCounts(habit.Catalogue[i], leads)
		return nil
	})
	if err != nil {
		return nil, err
	}
	out := []HabitTable{}
	for i, h := range habit.Catalogue {
		t := HabitTable{Habit: h.ID, Clinicians: []GroupValue{}}
		var all habitCount
		for k, code := range clinicians {
			n := counts[i][k]
			all = habitCount{all.with + n.with, all.without + n.without, all.missing + n.missing}
			e, err := q.habitShare(h, n)
			if err != nil {
				return nil, err
			}
			t.Clinicians = append(t.Clinicians, GroupValue{Code: code, Estimate: e})
		}
		if all.with+all.without == 0 {
			continue // nothing recorded that could tell
		}
		t.Missing = all.missing
		if t.All, err = q.habitShare(h, all); err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	return out, onAllCores(ctx, len(out), func(i int) error { return q.shrink(out[i].Clinicians) })
}

func (q *asker) habitShare(h habit.Habit, n habitCount) (Estimate, error) {
	return q.share(n.with, n.with+n.without, "% of "+string(h.Unit)+"s", "denture_words")
}

// shrink adds to each share the beta-binomial posterior mean with its limits, in %.
// Where all clinicians or none show the habit, where there is only one, or where the
// spread between them cannot be found, shares stay without. Cases count as
// independent of each other within a clinician.
func (q *asker) shrink(values []GroupValue) error {
	if len(values) < 2 {
		return nil
	}
	units := make([]stats.UnitShare, len(values))
	for i, v := range values {
		units[i] = stats.UnitShare{Events: float64(v.Estimate.Events), Trials: float64(v.Estimate.N)}
	}
	s, err := stats.ShrinkShares(units, stats.ShrinkOptions{Level: q.s.Level, UnitsOnly: true})
	if errors.Is(err, stats.ErrNoData) || errors.Is(err, stats.ErrNoConvergence) {
		return nil
	}
	if err != nil {
		return err
	}
	for i := range values {
		e, u := values[i].Estimate, s.Units[i]
		e.Value, e.Low, e.High = Num(100*u.Shrunk), Num(100*u.Limits.Low), Num(100*u.Limits.High)
		e.Method, e.TooFew, e.Warnings = "beta-binomial shrinkage", "", cautions(s.Warnings)
		values[i].Shrunk = &e
	}
	return nil
}
