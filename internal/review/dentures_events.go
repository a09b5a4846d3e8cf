package review

import (
	"context"
	"fmt"
	"math"
	"slices"

	"afterfit/queries"
)

// piece is what a statement of one piece is filled with.
type piece struct {
	First, Last int64
	Outcomes    queries.Codes
}

// readVisits reads the visits: the events of those at which a denture was adjusted within
// the window, and when each of their marks was first seen.
func (r *dentureReader) readVisits(ctx context.Context) error {
	r.d.firsts = make([][]uint16, len(firstOutcomes))
	for k := range r.d.firsts {
		r.d.firsts[k] = make([]uint16, r.d.n)
		for i := range r.d.firsts[k] {
			r.d.firsts[k][i] = noDay
		}
	}
	window, read := int64(r.q.s.AdjustmentDays), make([]int64, 0, r.visits)
	err := r.pieces(func(first, last int64) error {
		return r.q.eachWord(ctx, "denture_visits", piece{First: first, Last: last}, 1, func(row []int64) {
			no, day, minutes := row[0]>>32, row[0]>>16&noDay, row[0]>>4&(1<<12-1)
			at := r.d.row(no)
			if at < 0 {
				return
			}
			for k := range len(visitMarks) {
				if row[0]>>k&1 == 1 {
					r.d.firsts[k][at] = min(r.d.firsts[k][at], uint16(day))
				}
			}
			if row[0]&adjustedMark > 0 && day <= window {
				read = append(read, no<<32|day<<20|minutes)
			}
		})
	})
	if err != nil {
		return err
	}
	r.d.events.visits, err = r.d.inPlace(read)
	return err
}

// readSpots reads the sore spots: the events of the early ones, and when an ulcer was first
// seen.
func (r *dentureReader) readSpots(ctx context.Context) error {
	ulcers, read := r.d.firsts[firstKind(Ulcer)], make([]int64, 0, r.spots)
	err := r.pieces(func(first, last int64) error {
		return r.q.eachWord(ctx, "denture_spots", piece{First: first, Last: last}, 1, func(row []int64) {
			no, day, place := row[0]>>32, row[0]>>16&noDay, row[0]>>8&255
			at := r.d.row(no)
			if at < 0 {
				return
			}
			if row[0]&ulcerMark > 0 {
				ulcers[at] = min(ulcers[at], uint16(day))
			}
			if row[0]&earlyMark > 0 {
				read = append(read, no<<32|day<<20|place<<12)
			}
		})
	})
	if err != nil {
		return err
	}
	r.d.events.spots, err = r.d.inPlace(read)
	return err
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

// readFirsts reads when the outcomes first happened of which neither visits nor spots tell.
func (r *dentureReader) readFirsts(ctx context.Context) error {
	return r.pieces(func(first, last int64) error {
		return r.q.eachWord(ctx, "denture_firsts", piece{first, last, otherFirsts}, 1, func(row []int64) {
			if at := r.d.row(row[0] >> 32); at >= 0 {
				kind := firstKind(Ulcer) + int(row[0]>>24&255)
				r.d.firsts[kind][at] = uint16(min(row[0]&(1<<24-1), noDay))
			}
		})
	})
}
