package page

import (
	"cmp"
	"strings"

	"afterfit/internal/review"
	"afterfit/internal/wording"
)

func (w words) moved(kind string) string { return w.or("moved.*", kind, spaced(kind)) }

// changedSince answers what changed since an earlier review.
func changedSince(f *review.Findings, w words) *section {
	if f.Since == nil {
		return nil
	}
	x := f.Since
	s := &section{ID: "since", Title: w.Say("since.title"), Lead: w.sinceLead(x), Notes: []string{w.found(x.Rule), w.sinceOrigin(x)}}
	t := &table{Caption: w.Say("since.figures_table"), Open: true, Head: w.columns("outcome", "#then", "#now", "change")}
	for _, m := range x.Figures {
		t.Rows = append(t.Rows, []string{w.outcomeTitle(m.Outcome), w.short(m.Then), w.short(m.Now) + w.unitAfter(m.Now), w.moved(m.Kind)})
	}
	s.Figures = []figure{{ID: "since-figures", Title: w.Say("since.figures"), Table: t}}
	if len(x.Findings) > 0 {
		t := &table{Caption: w.Say("since.findings_table"), Open: true, Head: w.columns("habit", "outcome", "#ratio_then", "#ratio_now", "change")}
		for _, m := range x.Findings {
			t.Rows = append(t.Rows, []string{w.habit(m.ID), w.outcomeTitle(m.Outcome), w.thenOrNow(m.Then), w.thenOrNow(m.Now), w.moved(m.Kind)})
		}
		s.Figures = append(s.Figures, figure{ID: "since-findings", Title: w.Say("since.findings"), Table: t})
	}
	if len(x.Units) > 0 {
		t := &table{Caption: w.Say("since.units_table"), Open: true, Head: w.columns("unit", "outcome", "#ratio_then", "#ratio_now", "outside")}
		for _, m := range x.Units {
			dimension, code, _ := strings.Cut(m.ID, ":")
			t.Rows = append(t.Rows, []string{sentenceCase(w.unitName(dimension, code)), w.outcomeTitle(m.Outcome), w.thenOrNow(m.Then), w.thenOrNow(m.Now), w.moved(m.Kind)})
		}
		s.Figures = append(s.Figures, figure{ID: "since-units", Title: w.Say("since.units"), Table: t})
	}
	if len(x.Late) > 0 {
		s.Figures = append(s.Figures, figure{ID: "since-late", Title: w.Say("since.late"), Table: w.lateTable(x)})
	}
	return s
}

func (w words) thenOrNow(e review.Estimate) string {
	if e.TooFew == "" && !e.Value.Known() {
		return wording.None
	}
	return w.short(e)
}

func (w words) sinceLead(x *review.Since) string {
	var moved []string
	unknown := 0
	for _, m := range x.Figures {
		switch m.Kind {
		case "moved":
			moved = append(moved, w.Say("since.one", "outcome", w.outcomeName(m.Outcome), "then", w.figureOf(m.Then), "now", w.figureOf(m.Now)))
		case "unknown":
			unknown++
		}
	}
	s := w.Say("since.new", "cases", x.NewCases, "dentures", x.NewDentures)
	switch {
	case len(moved) > 0:
		return followed(s, w.Say("since.moved", "figures", strings.Join(moved, "; ")))
	case unknown == len(x.Figures):
		return followed(s, w.Say("since.too_little"))
	}
	return followed(s, w.Say("since.none"))
}

func (w words) sinceOrigin(x *review.Since) string {
	return w.Say("since.origin",
		"period", isolated(w.Period(x.LastPeriod)), "date", cmp.Or(isolated(w.Period(x.AsOf)), "none"), "fingerprint", x.Fingerprint[:min(12, len(x.Fingerprint))])
}

func (w words) lateTable(x *review.Since) *table {
	t := &table{Caption: w.Say("since.late_table"), Open: true, Head: w.columns("outcome", "#dentures_added", "#events_then", "#events_added")}
	for _, l := range x.Late {
		t.Rows = append(t.Rows, []string{w.outcomeTitle(l.Outcome), w.number(review.Num(l.Dentures), 0), w.count(l.Then), w.number(review.Num(l.Events), 0)})
	}
	return t
}
