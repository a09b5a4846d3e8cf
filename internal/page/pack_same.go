package page

import (
	"fmt"
	"strings"

	"afterfit/internal/habit"
	"afterfit/internal/review"
)

// verdictWords say how a clinician's most frequent value stands to chance.
var verdictWords = map[string]string{
	review.AsExpected:   "no more often than could be expected",
	review.MoreAlike:    "more often than could be expected",
	review.NearlyAlways: "in nearly every case, more often than could be expected",
	review.CannotTell:   "cannot be told",
}

// sameFigure tells how many clinicians write one value again and again; nobody is named.
func sameFigure(same []review.SameValue) *figure {
	t := &table{Caption: "Table: the same value again and again", Head: []column{{"Habit of a clinician", false}, {"Clinicians judged", true}, {"In nearly every case", true}, {"More often than expected", true}, {"Lowest to highest share", true}, {"How it is judged", false}}}
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
			t.Rows = append(t.Rows, []string{h.Title, "0", "–", "–", "–", h.Rule})
			continue
		}
		t.Rows = append(t.Rows, []string{h.Title, count(judged), count(nearly), count(more), figureOf(low) + " to " + figureOf(high), h.Rule + " " + h.Caution})
		if nearly > 0 {
			leads = append(leads, fmt.Sprintf("%d of %d “%s”", nearly, judged, strings.ToLower(h.Title[:1])+h.Title[1:]))
		}
	}
	if len(same) == 0 {
		return nil
	}
	lead := "No clinician writes one value in nearly every case more often than could be expected."
	if len(leads) > 0 {
		lead = "Clinicians in whom it shows: " + strings.Join(leads, "; ") + "."
	}
	return &figure{ID: "same-values", Title: "The same value again and again", Lead: lead, Table: t,
		Caption: "A value that hardly ever changes was perhaps chosen and not read. Colleagues are unlabelled; each finds their own on their private page."}
}

// ownSame tells the reader's own most frequent values.
func ownSame(same []review.SameValue) *figure {
	if len(same) == 0 {
		return nil
	}
	t := &table{Caption: "Table: your most frequent values", Head: []column{{"Habit", false}, {"Most frequent", true}, {"Share", true}, {"Interval", true}, {"n", true}, {"To be expected", true}, {"That is", false}}}
	lead := ""
	for _, v := range same {
		h, ok := habit.FindClinicianHabit(v.Habit)
		if !ok {
			continue
		}
		c, expected := cells(v.Share), "–"
		if v.Expected.Known() {
			expected = number(v.Expected, 0) + "%"
		}
		t.Rows = append(t.Rows, []string{h.Title, number(v.Value, decimalsFor(v.Value)), c[0], c[1], c[3], expected, verdictWords[v.Verdict]})
		if v.Verdict == review.NearlyAlways {
			lead += fmt.Sprintf("%s: %s of %s, where %s could be expected. %s ", h.Title, figureOf(v.Share), count(v.Share.N), expected, h.Caution)
		}
	}
	if lead == "" {
		lead = "None of your values comes up in nearly every case more often than could be expected."
	}
	return &figure{ID: "same-values", Title: "The same value again and again", Lead: strings.TrimSpace(lead), Table: t}
}

// decimalsFor writes whole numbers whole.
func decimalsFor(n review.Num) int {
	if n == review.Num(int64(n)) {
		return 0
	}
	return 1
}
