package review

import (
	"context"
	"database/sql"
	"fmt"
)

// Rules that pick cases for an audit.
const (
	PickWorst  = "worst"              // most adjustment visits beyond those of like dentures
	PickBest   = "best"               // fewest against those of like dentures
	PickRandom = "random"             // by chance, from the seed
	PickHabit  = "habit"              // that show a habit
	PickZone   = "zone"               // that were sore at a place
	PickRemake = "unexplained-remake" // remade without a recorded cause
	PickLesion = "lesion"             // a place that stayed sore without a recorded review
)

// Pick is a rule with what it needs: Habit for PickHabit, Arch, Zone and perhaps Side
// for PickZone, Seed for PickRandom. Most is how many cases at the most, from 1.
type Pick struct {
	Rule             string
	Habit            string
	Arch, Zone, Side string
	Seed             uint64
	Most             int
}

// pick returns the ids of the cases that a rule finds, none if it finds none.
func (q *asker) pick(ctx context.Context, p Pick) ([]string, error) {
	switch p.Rule {
	case PickWorst, PickBest:
		if err := q.outcomeRows(ctx, Adjustments); err != nil {
			return nil, err
		}
		sign := 1
		if p.Rule == PickBest {
			sign = -1
		}
		return q.ids(ctx, "audit_pick_expected", sign, q.s.MinDentures, q.s.AdjustmentDays, p.Most)
	case PickRandom:
		return q.ids(ctx, "audit_pick_random", fmt.Sprint(p.Seed), p.Most)
	case PickHabit:
		return q.ids(ctx, "audit_pick_habit", p.Habit, p.Most)
	case PickZone:
		return q.ids(ctx, "audit_pick_zone", p.Arch, p.Zone, p.Side, p.Most)
	case PickRemake:
		return q.ids(ctx, "audit_pick_remake", p.Most)
	case PickLesion:
		return q.lesionCases(ctx, p.Most)
	}
	return nil, fmt.Errorf("there is no rule %q", p.Rule)
}

func (q *asker) ids(ctx context.Context, name string, args ...any) ([]string, error) {
	var out []string
	err := q.each(ctx, name, func(rows *sql.Rows) error {
		var id string
		err := rows.Scan(&id)
		out = append(out, id)
		return err
	}, args...)
	return out, err
}

// lesionCases are the cases of the lesion list, in its order, each once.
func (q *asker) lesionCases(ctx context.Context, most int) ([]string, error) {
	all, err := q.lesions(ctx)
	if err != nil {
		return nil, err
	}
	var out []string
	seen := map[string]bool{}
	for _, l := range all {
		if !seen[l.CaseID] && len(out) < most {
			seen[l.CaseID] = true
			out = append(out, l.CaseID)
		}
	}
	return out, nil
}
