package review

import "context"

// ownShares fills what summaries show of habits beside the plain shares: the shrunken
// ones, and the values that a clinician writes again and again.
func (q *asker) ownShares(ctx context.Context, m *material) (err error) {
	tables, err := q.habitTables(m.counts, m.clinicians)
	if err != nil {
		return err
	}
	m.shrunk = map[string]map[string]*Estimate{}
	for _, t := range tables {
		m.shrunk[t.Habit] = map[string]*Estimate{}
		for _, v := range t.Clinicians {
			m.shrunk[t.Habit][v.Code] = v.Shrunk
		}
	}
	m.same, err = q.sameValues(ctx)
	return err
}

func (m *material) sameOf(code string) []SameValue {
	out := []SameValue{}
	for _, v := range m.same {
		if v.Clinician == code {
			out = append(out, v)
		}
	}
	return out
}
