package page

import (
	"slices"
	"strings"

	"afterfit/internal/review"
)

// auditPointers says where common practice looks first.
func auditPointers(a *review.Audit, w words) *section {
	if len(a.Pointers) == 0 {
		return nil
	}
	s := &section{ID: "look", Title: w.Say("look.title"), Lead: w.Say("look.lead", "n", len(a.Pointers)),
		Notes: []string{w.Say("look.note")}}
	for _, p := range a.Patterns {
		title := w.found(p.Sees)
		if p.Arch != "" {
			title = w.Say("sentence.about", "about", sentenceCase(w.own(p.Arch)), "said", w.within(title))
		}
		s.Cards = append(s.Cards, card{Title: title, Texts: []string{w.Say("look.first", "what", w.found(p.LookAt), "source", w.found(p.Source))}})
	}
	t := &table{Caption: w.caption(w.Say("look.table")), Open: true, Head: w.columns("zone", "#sore_at_visits", "look_first_at", "status")}
	for _, p := range a.Pointers {
		t.Rows = append(t.Rows, []string{sentenceCase(w.zoneName(p.Arch, p.Zone, p.Sides)), joinNumbers(p.Visits), w.found(p.LookAt), w.found(p.Source)})
	}
	s.Figures = []figure{{ID: "pointers", Table: t}}
	return s
}

// zoneName is "lower tongue-side (lingual) sulcus: left, right".
func (w words) zoneName(arch, zone string, sides []string) string {
	said := make([]string, len(sides))
	for i, s := range sides {
		said[i] = w.own(s)
		if s == "" {
			said[i] = w.Say("look.no_side")
		}
	}
	return w.Say("look.zone", "arch", w.own(arch), "zone", w.or("zone.*", zone, isolated(spaced(zone))), "sides", strings.Join(said, ", "))
}

// auditLesions lists places of this case that stayed sore.
func auditLesions(a *review.Audit, w words) *section {
	if len(a.Lesions) == 0 {
		return nil
	}
	return &section{ID: "lesions", Title: w.Say("lesion.places"), Lead: w.lesionLead(a.Lesions), Notes: []string{w.lesionCaution()}, Figures: w.lesionFigures(a.Lesions)}
}

// auditSimilar shows the nearest cases with what became of them.
func auditSimilar(a *review.Audit, w words) *section {
	if len(a.Similar) == 0 {
		return nil
	}
	s := &section{ID: "similar", Title: w.Say("similar.title"), Lead: w.similarLead(a.Similar),
		Notes: []string{w.Say("similar.note")}}
	t := &table{Caption: w.caption(w.Say("similar.table")), Open: true, Head: w.columns("case", "how_it_differs", "#adjustment_visits_in_90_days", "#sore_spots_in_30_days", "remade", "relined_or_rebased", "#days_followed")}
	for _, c := range a.Similar {
		t.Rows = append(t.Rows, []string{c.ID, w.differs(c), w.count(c.Visits), w.count(c.Spots), w.archList(c.Remade), w.archList(c.Relined), w.count(c.Followed)})
	}
	s.Figures = []figure{{ID: "similar-list", Table: t}}
	return s
}

func (w words) similarLead(all []review.SimilarCase) string {
	low, high, remade := all[0].Visits, all[0].Visits, int64(0)
	for _, c := range all {
		low, high = min(low, c.Visits), max(high, c.Visits)
		if c.Remade != "" {
			remade++
		}
	}
	if len(all) == 1 {
		return w.Say("similar.one", "visits", high)
	}
	return w.Say("similar.lead",
		"n", len(all), "same", yes(low == high), "low", low, "high", high, "remade", remade)
}

// differs tells in what a near case is not the same, nearest first in importance.
func (w words) differs(c review.SimilarCase) string {
	var out []string
	step := func(far int64, what string, apart func() string) {
		switch {
		case far < 0:
			out = append(out, w.Say("similar.only_one", "what", what))
		case far > 0:
			out = append(out, apart())
		}
	}
	class := w.Say("similar.class")
	step(c.RidgeFar, class, func() string { return w.Say("similar.apart", "what", class, "n", c.RidgeFar) })
	if c.PriorFar > 0 {
		out = append(out, w.Say("similar.prior"))
	}
	age := w.Say("similar.age")
	step(c.AgeFar, age, func() string { return w.Say("similar.apart", "what", age, "n", c.AgeFar) })
	if c.SexFar > 0 {
		out = append(out, w.Say("similar.sex"))
	}
	for _, x := range []struct {
		far  int64
		name string
	}{{c.FreewayFar, w.Say("similar.freeway")}, {c.ClearanceFar, w.Say("similar.clearance")}} {
		step(x.far, x.name, func() string {
			return w.Say("similar.mm_apart", "what", x.name, "mm", w.plainNumber(review.Num(float64(x.far)/2)))
		})
	}
	if len(out) == 0 {
		return w.Say("similar.same")
	}
	return strings.Join(out, "; ")
}

func (w words) archList(arches string) string {
	if arches == "" {
		return w.yesNo(false)
	}
	return w.and(strings.Split(arches, "|"))
}

// and lists arches in words.
func (w words) and(arches []string) string {
	out := make([]string, len(arches))
	for i, a := range arches {
		out[i] = w.own(a)
	}
	if len(out) == 2 {
		return w.Say("word.and", "one", out[0], "other", out[1])
	}
	return strings.Join(out, ", ")
}

// auditQuestions are for the discussion.
func auditQuestions(a *review.Audit, w words) *section {
	if len(a.Questions) == 0 {
		return nil
	}
	s := &section{ID: "questions", Title: w.Say("questions.title"), Lead: w.Say("questions.lead")}
	for i, q := range a.Questions {
		if slices.ContainsFunc(a.Questions[:i], func(o review.AuditQuestion) bool { return o.ID == q.ID }) {
			continue
		}
		var about []string
		for _, o := range a.Questions[i:] {
			if o.ID == q.ID {
				about = append(about, o.About)
			}
		}
		s.Asks = append(s.Asks, w.asks(q.ID, about)...)
	}
	return s
}

// auditMethod says how the page was worked out.
func auditMethod(a *review.Audit, w words) *section {
	s := &section{ID: "method", Title: w.Say("method.title"), Lead: w.Say("audit.method")}
	for _, id := range []string{review.Adjustments, review.SoreSpots, review.Remake} {
		s.Definitions = append(s.Definitions, definition{w.outcomeTitle(id), w.outcomeDefinition(id)})
	}
	s.Definitions = append(s.Definitions, w.defined("audit_term", auditTerms)...)
	if len(a.Expected) > 0 {
		s.Definitions = append(s.Definitions, definition{w.Say("audit.expected_method"), w.Say("audit.expected_how", "method", sentenceCase(w.found(a.Expected[0].Like.Method)))})
	}
	return s
}
