package page

import (
	"strings"

	"afterfit/internal/habit"
	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// sameFigure tells how many clinicians write one value again and again; nobody is named.
func (w words) sameFigure(same []review.SameValue) *figure {
	t := &table{Caption: w.caption(w.Say("same.table")), Head: w.columns("clinician_habit", "#clinicians_judged", "#in_nearly_every_case", "#more_often_than_expected", "#lowest_to_highest_share", "how_it_is_judged")}
	var leads []string
	for _, h := range habit.ClinicianHabits {
		var judged, nearly, more int64
		low, high := review.Estimate{}, review.Estimate{}
		for _, v := range same {
			if v.Habit != h.ID || v.Verdict == review.CannotTell {
				continue
			}
			if judged == 0 || v.Share.Value < low.Value {
				low = v.Share
			}
			if judged == 0 || v.Share.Value > high.Value {
				high = v.Share
			}
			judged++
			switch v.Verdict {
			case review.NearlyAlways:
				nearly++
			case review.MoreAlike:
				more++
			}
		}
		if judged == 0 {
			t.Rows = append(t.Rows, []string{w.found(h.Title), "0", wording.None, wording.None, wording.None, w.found(h.Rule)})
			continue
		}
		t.Rows = append(t.Rows, []string{w.found(h.Title), w.count(judged), w.count(nearly), w.count(more), w.span(w.figureOf(low), w.figureOf(high)), followed(w.found(h.Rule), w.found(h.Caution))})
		if nearly > 0 {
			leads = append(leads, w.Say("same.of", "nearly", nearly, "judged", judged, "habit", w.within(w.found(h.Title))))
		}
	}
	if len(same) == 0 {
		return nil
	}
	lead := w.Say("same.none")
	if len(leads) > 0 {
		lead = w.Say("same.lead", "habits", strings.Join(leads, "; "))
	}
	return &figure{ID: "same-values", Title: w.Say("same.title"), Lead: lead, Table: t,
		Caption: w.Say("same.caption")}
}

// ownSame tells the reader's own most frequent values.
func (w words) ownSame(same []review.SameValue) *figure {
	if len(same) == 0 {
		return nil
	}
	t := &table{Caption: w.caption(w.Say("same.own_table")), Head: w.columns("habit", "#most_frequent", "#share", "#interval", "#n", "#to_be_expected", "that_is")}
	var leads []string
	for _, v := range same {
		h, ok := habit.FindClinicianHabit(v.Habit)
		if !ok {
			continue
		}
		c, expected := w.cells(v.Share), wording.None
		if v.Expected.Known() {
			expected = w.Percent(w.number(v.Expected, 0))
		}
		t.Rows = append(t.Rows, []string{w.found(h.Title), w.number(v.Value, decimalsFor(v.Value)), c[0], c[1], c[3], expected, w.or("verdict.*", v.Verdict, spaced(v.Verdict))})
		if v.Verdict == review.NearlyAlways {
			leads = append(leads, w.Say("same.own", "habit", w.found(h.Title), "share", w.figureOf(v.Share), "n", v.Share.N, "expected", expected), w.found(h.Caution))
		}
	}
	lead := followed(leads...)
	if lead == "" {
		lead = w.Say("same.own_none")
	}
	return &figure{ID: "same-values", Title: w.Say("same.title"), Lead: lead, Table: t}
}

// decimalsFor writes whole numbers whole.
func decimalsFor(n review.Num) int {
	if n == review.Num(int64(n)) {
		return 0
	}
	return 1
}
