package review

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"strconv"
	"strings"

	"afterfit/internal/habit"
)

// A summary names so many habits that are worth trying to do without, and so many cases to
// look at for each.
const (
	mostTried  = 3
	mostLooked = 5
)

// shownCase is a case in which a clinician showed a habit: the adjustment visits of its
// dentures that show it, and one of these by its number.
type shownCase struct {
	visits int64
	no     int32
	id     string
}

// casesToLook names, for every habit that is worth trying, the clinician's cases that show
// it, those with most adjustment visits first and then in the order of their names. Only
// cases that can be among the first few are asked for their names.
func (q *asker) casesToLook(ctx context.Context, all []Summary) error {
	shown := make([][]shownCase, mostTried*len(all))
	err := onAllCores(ctx, len(habit.Catalogue), func(k int) error {
		q.showing(habit.Catalogue[k], all, shown)
		return nil
	})
	if err != nil {
		return err
	}
	ids := map[int32]string{}
	for i := range shown {
		shown[i] = foremost(shown[i])
		for _, c := range shown[i] {
			ids[c.no] = ""
		}
	}
	if err := q.caseNames(ctx, ids); err != nil {
		return err
	}
	for i := range all {
		for k := range all[i].Try {
			of := shown[mostTried*i+k]
			for j := range of {
				of[j].id = ids[of[j].no]
			}
			slices.SortFunc(of, func(a, b shownCase) int { return cmp.Or(cmp.Compare(b.visits, a.visits), cmp.Compare(a.id, b.id)) })
			for _, c := range of[:min(mostLooked, len(of))] {
				all[i].Try[k].Cases = append(all[i].Try[k].Cases, c.id)
			}
		}
	}
	return nil
}

// showing finds the cases with a habit of the clinicians who may try to do without it: for
// the habit k of summary i they go to shown[mostTried*i+k].
func (q *asker) showing(h habit.Habit, all []Summary, shown [][]shownCase) {
	d := q.all
	of := d.codes["clinician"]
	into := make([]int, len(of.levels)+1) // by clinician; -1 for who does not try
	for i := range into {
		into[i] = -1
	}
	asked := false
	for i, s := range all {
		for k, t := range s.Try {
			if at, ok := slices.BinarySearch(of.levels, s.Clinician); ok && t.Habit == h.ID {
				into[at], asked = mostTried*i+k, true
			}
		}
	}
	if !asked {
		return
	}
	for i, on := range d.habits[h.Column()] {
		at := into[of.at(i)]
		if sideOf(on) != 1 || at < 0 {
			continue
		}
		visits := int64(len(d.events.visits.of(i)))
		// The two dentures of a case stand side by side, the lower one first.
		if n := len(shown[at]); n > 0 && d.upper(i) && shown[at][n-1].no == d.no[i]-1 {
			shown[at][n-1].visits += visits
			continue
		}
		shown[at] = append(shown[at], shownCase{visits: visits, no: d.no[i]})
	}
}

// foremost leaves those with as many visits as the last one that can be named, or more.
func foremost(cases []shownCase) []shownCase {
	if len(cases) <= mostLooked {
		return cases
	}
	slices.SortFunc(cases, func(a, b shownCase) int { return cmp.Compare(b.visits, a.visits) })
	n := mostLooked
	for n < len(cases) && cases[n].visits == cases[mostLooked-1].visits {
		n++
	}
	return cases[:n]
}

// caseNames fills in the cases of the dentures asked for.
func (q *asker) caseNames(ctx context.Context, ids map[int32]string) error {
	if len(ids) == 0 {
		return nil
	}
	var numbers []string
	for no := range ids {
		numbers = append(numbers, strconv.Itoa(int(no)))
	}
	return q.each(ctx, "denture_cases", func(rows *sql.Rows) error {
		var no int32
		var id string
		err := rows.Scan(&no, &id)
		ids[no] = id
		return err
	}, strings.Join(numbers, "|"))
}
