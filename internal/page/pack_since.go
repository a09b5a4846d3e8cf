package page

import (
	"fmt"
	"strings"

	"afterfit/internal/review"
)

var movedWords = map[string]string{
	"moved": "moved beyond chance", "steady": "no more than chance", "unknown": "too little new to tell",
	"appeared": "new", "went": "no longer", "stronger": "stronger", "weaker": "weaker",
}

// changedSince answers what changed since an earlier review.
func changedSince(f *review.Findings, w words) *section {
	if f.Since == nil {
		return nil
	}
	x := f.Since
	s := &section{ID: "since", Title: "What changed since the last review?", Lead: sinceLead(x), Notes: []string{x.Rule, sinceOrigin(x)}}
	t := &table{Caption: "Figures then and now", Open: true, Head: []column{{"Outcome", false}, {"Then", true}, {"Now", true}, {"Change", false}}}
	for _, m := range x.Figures {
		t.Rows = append(t.Rows, []string{outcomeOf(m.Outcome).Title, short(m.Then), short(m.Now) + unitAfter(m.Now), movedWords[m.Kind]})
	}
	s.Figures = []figure{{ID: "since-figures", Title: "Figures", Table: t}}
	if len(x.Findings) > 0 {
		t := &table{Caption: "Clear findings then and now", Open: true, Head: []column{{"Habit", false}, {"Outcome", false}, {"Ratio then", true}, {"Ratio now", true}, {"Change", false}}}
		for _, m := range x.Findings {
			t.Rows = append(t.Rows, []string{w.habit(m.ID), outcomeOf(m.Outcome).Title, thenOrNow(m.Then), thenOrNow(m.Now), movedWords[m.Kind]})
		}
		s.Figures = append(s.Figures, figure{ID: "since-findings", Title: "Findings", Table: t})
	}
	if len(x.Units) > 0 {
		t := &table{Caption: "Units that came to lie outside the 99.8% limits, or no longer do", Open: true, Head: []column{{"Unit", false}, {"Outcome", false}, {"Ratio then", true}, {"Ratio now", true}, {"Outside", false}}}
		for _, m := range x.Units {
			dimension, code, _ := strings.Cut(m.ID, ":")
			t.Rows = append(t.Rows, []string{sentenceCase(w.unitName(dimension, code)), outcomeOf(m.Outcome).Title, thenOrNow(m.Then), thenOrNow(m.Now), movedWords[m.Kind]})
		}
		s.Figures = append(s.Figures, figure{ID: "since-units", Title: "Units", Table: t})
	}
	if len(x.Late) > 0 {
		s.Figures = append(s.Figures, figure{ID: "since-late", Title: "Late data for periods already seen", Table: lateTable(x)})
	}
	return s
}

func thenOrNow(e review.Estimate) string {
	if e.TooFew == "" && !e.Value.Known() {
		return "–"
	}
	return short(e)
}

func sinceLead(x *review.Since) string {
	var moved []string
	unknown := 0
	for _, m := range x.Figures {
		switch m.Kind {
		case "moved":
			moved = append(moved, fmt.Sprintf("%s, from %s to %s", strings.ToLower(outcomeOf(m.Outcome).Title), figureOf(m.Then), figureOf(m.Now)))
		case "unknown":
			unknown++
		}
	}
	s := fmt.Sprintf("%s and %s are new. ", plural(x.NewCases, "case"), plural(x.NewDentures, "denture"))
	switch {
	case len(moved) > 0:
		s += "Moved beyond chance: " + strings.Join(moved, "; ") + "."
	case unknown == len(x.Figures):
		s += "That is too little to tell whether any figure moved."
	default:
		s += "No figure moved by more than chance."
	}
	return s
}

func sinceOrigin(x *review.Since) string {
	s := "The earlier review covered records up to " + isolated(x.LastPeriod)
	if x.AsOf != "" {
		s += ", as of " + isolated(x.AsOf)
	}
	return s + fmt.Sprintf("; its store’s fingerprint was %.12s.", x.Fingerprint)
}

func lateTable(x *review.Since) *table {
	t := &table{Caption: "What came in late for periods that the earlier review knew", Open: true, Head: []column{{"Outcome", false}, {"Dentures added", true}, {"Events then", true}, {"Events added", true}}}
	for _, l := range x.Late {
		t.Rows = append(t.Rows, []string{outcomeOf(l.Outcome).Title, number(review.Num(l.Dentures), 0), count(l.Then), number(review.Num(l.Events), 0)})
	}
	return t
}
