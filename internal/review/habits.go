package review

import (
	"context"
	"database/sql"
	"errors"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// habitCount counts one habit for one clinician in its own unit.
type habitCount struct{ with, without, missing int64 }

// habitCounts reads every habit's counts by clinician, clinicians in order.
func (q *asker) habitCounts(ctx context.Context) (map[string]map[string]habitCount, []string, error) {
	out := map[string]map[string]habitCount{}
	seen := map[string]bool{}
	var clinicians []string
	err := q.each(ctx, "habit_shares", func(rows *sql.Rows) error {
		var id, clinician string
		var wd, od, wc, oc, md, mc int64
		if err := rows.Scan(&id, &clinician, &wd, &od, &wc, &oc, &md, &mc); err != nil {
			return err
		}
		h, ok := habit.Find(id)
		if !ok {
			return nil // a test holds columns and catalogue together
		}
		n := habitCount{wd, od, md}
		if h.Unit == habit.Case {
			n = habitCount{wc, oc, mc}
		}
		if out[id] == nil {
			out[id] = map[string]habitCount{}
		}
		out[id][clinician] = n
		if !seen[clinician] {
			seen[clinician] = true
			clinicians = append(clinicians, clinician)
		}
		return nil
	})
	return out, clinicians, err
}

func (q *asker) habits(ctx context.Context) ([]HabitTable, error) {
	counts, clinicians, err := q.habitCounts(ctx)
	if err != nil {
		return nil, err
	}
	out := []HabitTable{}
	for _, h := range habit.Catalogue {
		t := HabitTable{Habit: h.ID, Clinicians: []GroupValue{}}
		var all habitCount
		for _, code := range clinicians {
			n, ok := counts[h.ID][code]
			if !ok {
				continue
			}
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
	return q.share(n.with, n.with+n.without, "% of "+string(h.Unit)+"s", "habit_shares")
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
	s, err := stats.ShrinkShares(units, stats.ShrinkOptions{Level: q.s.Level})
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
