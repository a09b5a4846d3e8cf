package review

import "slices"

// countHabits takes the clinicians, in order, and their counts from the shares found.
// Some habits can be told of every denture, so that no clinician is missing there.
func (m *material) countHabits() {
	m.counts = map[string]map[string]habitCount{}
	for _, t := range m.found.Habits {
		m.counts[t.Habit] = map[string]habitCount{}
		for _, v := range t.Clinicians {
			m.counts[t.Habit][v.Code] = habitCount{with: v.Estimate.Events, without: v.Estimate.N - v.Estimate.Events}
			if !slices.Contains(m.clinicians, v.Code) {
				m.clinicians = append(m.clinicians, v.Code)
			}
		}
	}
	slices.Sort(m.clinicians)
}

// shrunkOf is a clinician's shrunken share with a habit, nil where there is none.
func (m *material) shrunkOf(id, code string) *Estimate {
	for _, t := range m.found.Habits {
		if t.Habit != id {
			continue
		}
		for _, v := range t.Clinicians {
			if v.Code == code {
				return v.Shrunk
			}
		}
	}
	return nil
}

// sameOf are the values that a clinician writes again and again.
func (m *material) sameOf(code string) []SameValue {
	out := []SameValue{}
	for _, v := range m.found.Same {
		if v.Clinician == code {
			out = append(out, v)
		}
	}
	return out
}
