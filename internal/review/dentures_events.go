package review

import (
	"context"
	"fmt"
	"math"
	"slices"

	"afterfit/queries"
)

// numbers reads what a statement gives of all dentures, one whole number a row; so many are
// expected.
func (r *dentureReader) numbers(ctx context.Context, q *asker, statement, column string, expected int64) ([]int64, error) {
	out := make([]int64, 0, expected)
	return out, q.eachWord(ctx, statement, otherFirsts, []string{column}, func(rows [][]int64) { out = append(out, rows[0]...) })
}

// placeVisits sorts visits to their dentures: the events of those at which one was adjusted
// within the window, and when each of their marks was first seen.
func (r *dentureReader) placeVisits(visits []int64) (err error) {
	window, events := int64(r.q.s.AdjustmentDays), visits[:0]
	for _, seen := range visits {
		no, day, minutes := seen>>32, seen>>16&noDay, seen>>4&(1<<12-1)
		at := r.d.row(no)
		if at < 0 {
			continue
		}
		for k := range len(visitMarks) {
			if seen>>k&1 == 1 {
				r.d.firsts[k][at] = min(r.d.firsts[k][at], uint16(day))
			}
		}
		if seen&adjustedMark > 0 && day <= window {
			events = append(events, no<<32|day<<20|minutes)
		}
	}
	r.d.events.visits, err = r.d.inPlace(events)
	return err
}

// placeSpots sorts sore spots: the events of the early ones, and when an ulcer was first seen.
func (r *dentureReader) placeSpots(spots []int64) (err error) {
	ulcers, events := r.d.firsts[firstKind(Ulcer)], spots[:0]
	for _, spot := range spots {
		no, day, place := spot>>32, spot>>16&noDay, spot>>8&255
		at := r.d.row(no)
		if at < 0 {
			continue
		}
		if spot&ulcerMark > 0 {
			ulcers[at] = min(ulcers[at], uint16(day))
		}
		if spot&earlyMark > 0 {
			events = append(events, no<<32|day<<20|place<<12)
		}
	}
	r.d.events.spots, err = r.d.inPlace(events)
	return err
}

// placeFirsts notes when the outcomes first happened of which neither visits nor spots tell.
func (r *dentureReader) placeFirsts(firsts []int64) {
	for _, w := range firsts {
		if at := r.d.row(w >> 32); at >= 0 {
			r.d.firsts[firstKind(Ulcer)+int(w>>24&255)][at] = uint16(min(w&(1<<24-1), noDay))
		}
	}
}

// inPlace lays out the events read denture by denture, in the order read.
func (d *dentures) inPlace(read []int64) (eventList, error) {
	if len(read) > math.MaxInt32 {
		return eventList{}, fmt.Errorf("%d events of one kind are more than %d, the most that one store's comparisons can hold", len(read), math.MaxInt32)
	}
	start, all := make([]int32, d.n+2), make([]countedEvent, len(read))
	for _, w := range read {
		start[d.row(w>>32)+2]++
	}
	for i := 2; i < len(start); i++ {
		start[i] += start[i-1]
	}
	for _, w := range read {
		at := &start[d.row(w>>32)+1]
		all[*at] = countedEvent(w)
		*at++
	}
	return eventList{start[:d.n+1], all}, nil
}

// firstOutcomes are the yes/no outcomes: those that the marks of visits tell of, in the order
// of the marks, that of sore spots, and the others.
var (
	firstOutcomes = append([]string{firstAdjustment, "planned_visit", "display_complaint", "vertical_complaint", Ulcer}, otherFirsts.List()...)
	otherFirsts   = queries.CodesOf(Remake, "reline")
)

// firstKind is the place of a yes/no outcome among them.
func firstKind(outcome string) int { return slices.Index(firstOutcomes, outcome) }

// statementBehind is the statement that reads the events of an outcome.
func statementBehind(outcome string) string {
	switch k := firstKind(outcome); {
	case outcome == SoreSpots || outcome == Ulcer:
		return "denture_spots"
	case k < len(visitMarks): // and those that recur
		return "denture_visits"
	}
	return "denture_firsts"
}
