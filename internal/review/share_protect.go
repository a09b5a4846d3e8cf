package review

import "slices"

// people are those behind one figure. With is those with the outcome, without those
// with a denture without it, events the outcome's count: dentures for an outcome that
// counts once.
type people struct {
	code                          string
	dentures, patients            int64
	events, withDentures          int64
	withPatients, withoutPatients int64
}

func tiny(n int64) bool { return n > 0 && n < smallest }

// unsafe reports whether the figure shows 1 to 10 people. How many are without a
// recurrent outcome follows from no mean, so that it counts for once only.
func (p people) unsafe(once bool) bool {
	return tiny(p.patients) || tiny(p.withPatients) || once && tiny(p.withoutPatients)
}

// covers reports whether the figure, hidden too, keeps those hidden with it from being
// worked out: more than ten people with the outcome, and more than ten without it. With
// fewer on one side the known size of its group would leave it little room, and so them.
func (p people) covers() bool {
	return p.patients >= smallest && p.withPatients >= smallest && p.withoutPatients >= smallest
}

// hide picks what a table must not show, the rows in sizes being hidden in any case.
// It is nil where nothing can protect what is unsafe, or where fewer than two rows are
// left: then the whole table is left out.
func hide(rows []people, once bool, sizes []bool) []bool {
	hidden, some, covered := make([]bool, len(rows)), false, false
	for i, p := range rows {
		hidden[i] = sizes[i] || p.unsafe(once)
		some = some || hidden[i]
		covered = covered || hidden[i] && p.covers()
	}
	if some && !covered {
		at := cover(rows, hidden, func(p people) (int64, bool) { return p.withPatients, p.covers() })
		if at < 0 {
			return nil
		}
		hidden[at] = true
	}
	return enough(hidden)
}

// hideSizes picks the groups whose very size must not be shown, for every outcome
// alike: from the sizes in two tables the one that is hidden in both could be worked
// out. It is nil where nothing can protect them.
func hideSizes(rows []people) []bool {
	hidden, some := make([]bool, len(rows)), false
	for i, p := range rows {
		hidden[i] = tiny(p.patients)
		some = some || hidden[i]
	}
	if some {
		at := cover(rows, hidden, func(p people) (int64, bool) { return p.patients, p.patients >= smallest })
		if at < 0 {
			return nil
		}
		hidden[at] = true
	}
	return enough(hidden)
}

// cut is an outcome's rows in one dimension.
type cut struct {
	rows []people
	once bool
}

// hideTogether picks what the tables of one dimension must not show whose outcomes
// contain each other, such as sore spots and ulcers: the same rows in all of them, since
// the shown part of a hidden figure would bound it. A table is nil where it has to be
// left out; all are where the groups' sizes cannot be protected.
func hideTogether(tables []cut) [][]bool {
	out := make([][]bool, len(tables))
	hidden := hideSizes(tables[0].rows)
	if hidden == nil {
		return out
	}
	gone := make([]bool, len(tables))
	for again := true; again; {
		again = false
		for i, t := range tables {
			if gone[i] {
				continue
			}
			h := hide(t.rows, t.once, hidden)
			if gone[i] = h == nil; !gone[i] && !slices.Equal(h, hidden) {
				hidden, again = h, true
			}
		}
	}
	for i := range tables {
		if !gone[i] {
			out[i] = hidden
		}
	}
	return out
}

// cover is the row with the fewest people that can be hidden with others, -1 for none.
func cover(rows []people, hidden []bool, size func(people) (int64, bool)) int {
	at := -1
	for i, p := range rows {
		n, ok := size(p)
		if hidden[i] || !ok {
			continue
		}
		if at >= 0 {
			if best, _ := size(rows[at]); n >= best {
				continue
			}
		}
		at = i
	}
	return at
}

// enough is nil for a table that hides rows and shows fewer than two.
func enough(hidden []bool) []bool {
	shown := 0
	for _, h := range hidden {
		if !h {
			shown++
		}
	}
	if shown < 2 && shown < len(hidden) {
		return nil
	}
	return hidden
}
