package page

import (
	"fmt"
	"slices"
	"strings"

	"afterfit/internal/review"
)

// auditPointers says where common practice looks first.
func auditPointers(a *review.Audit, _ words) *section {
	if len(a.Pointers) == 0 {
		return nil
	}
	s := &section{ID: "look", Title: "Where to look first", Lead: plural(int64(len(a.Pointers)), "sore zone") + ", each with what to look at first.",
		Notes: []string{"A pointer says where to look first; it is never a diagnosis. All of these are common practice without a published source."}}
	for _, p := range a.Patterns {
		title := p.Sees
		if p.Arch != "" {
			title = sentenceCase(p.Arch) + ": " + strings.ToLower(p.Sees[:1]) + p.Sees[1:]
		}
		s.Cards = append(s.Cards, card{Title: title, Texts: []string{fmt.Sprintf("Look first at %s (%s).", p.LookAt, p.Source)}})
	}
	t := &table{Caption: "Table: zones, and what to look at first", Open: true, Head: []column{{"Zone", false}, {"Sore at visits", true}, {"Look first at", false}, {"Status", false}}}
	for _, p := range a.Pointers {
		t.Rows = append(t.Rows, []string{sentenceCase(zoneName(p.Arch, p.Zone, p.Sides)), joinNumbers(p.Visits), p.LookAt, p.Source})
	}
	s.Figures = []figure{{ID: "pointers", Table: t}}
	return s
}

// zoneName is "lower tongue-side (lingual) sulcus: left, right".
func zoneName(arch, zone string, sides []string) string {
	name, ok := zones[zone]
	if !ok {
		name = isolated(spaced(zone))
	}
	said := make([]string, len(sides))
	for i, s := range sides {
		said[i] = s
		if s == "" {
			said[i] = "side not recorded"
		}
	}
	return arch + " " + name + ": " + strings.Join(said, ", ")
}

// auditLesions lists places of this case that stayed sore.
func auditLesions(a *review.Audit, _ words) *section {
	if len(a.Lesions) == 0 {
		return nil
	}
	return &section{ID: "lesions", Title: "Places to check", Lead: lesionLead(a.Lesions), Notes: []string{cautions[2]}, Figures: lesionFigures(a.Lesions)}
}

// auditSimilar shows the nearest cases with what became of them.
func auditSimilar(a *review.Audit, _ words) *section {
	if len(a.Similar) == 0 {
		return nil
	}
	s := &section{ID: "similar", Title: "What became of the nearest cases?", Lead: similarLead(a.Similar),
		Notes: []string{"Nearest cases of other patients: the same set of dentures, then nearest in ridge class, prior denture, age band, sex, freeway space and largest tray clearance, in this order, among those followed for 90 days or to an earlier end. A handful of cases is a story and not an estimate."}}
	t := &table{Caption: "Table: the nearest cases", Open: true, Head: []column{{"Case", false}, {"How it differs", false}, {"Adjustment visits in 90 days", true}, {"Sore spots in 30 days", true}, {"Remade", false}, {"Relined or rebased", false}, {"Days followed", true}}}
	for _, c := range a.Similar {
		t.Rows = append(t.Rows, []string{c.ID, differs(c), count(c.Visits), count(c.Spots), archList(c.Remade), archList(c.Relined), count(c.Followed)})
	}
	s.Figures = []figure{{ID: "similar-list", Table: t}}
	return s
}

func similarLead(all []review.SimilarCase) string {
	low, high, remade := all[0].Visits, all[0].Visits, int64(0)
	for _, c := range all {
		low, high = min(low, c.Visits), max(high, c.Visits)
		if c.Remade != "" {
			remade++
		}
	}
	visits := count(low) + " to " + plural(high, "adjustment visit")
	if low == high {
		visits = plural(low, "adjustment visit")
	}
	if len(all) == 1 {
		return "The nearest case needed " + visits + "."
	}
	return fmt.Sprintf("The %d nearest cases needed %s each; %s remade.", len(all), visits, map[bool]string{true: "none was", false: count(remade) + " had a denture"}[remade == 0])
}

// differs tells in what a near case is not the same, nearest first in importance.
func differs(c review.SimilarCase) string {
	var out []string
	step := func(far int64, one, many string) {
		switch {
		case far < 0:
			out = append(out, one+" recorded for only one of the two")
		case far > 0:
			out = append(out, one+" "+fmt.Sprintf(many, far))
		}
	}
	step(c.RidgeFar, "ridge class", "%d apart")
	if c.PriorFar > 0 {
		out = append(out, "prior denture differs")
	}
	step(c.AgeFar, "age band", "%d apart")
	if c.SexFar > 0 {
		out = append(out, "sex differs")
	}
	for _, x := range []struct {
		far  int64
		name string
	}{{c.FreewayFar, "freeway space"}, {c.ClearanceFar, "clearance"}} {
		switch {
		case x.far < 0:
			out = append(out, x.name+" recorded for only one of the two")
		case x.far > 0:
			out = append(out, x.name+" about "+plainNumber(review.Num(float64(x.far)/2))+" mm apart")
		}
	}
	if len(out) == 0 {
		return "the same in all that is compared"
	}
	return strings.Join(out, "; ")
}

func archList(arches string) string {
	if arches == "" {
		return "no"
	}
	return strings.ReplaceAll(arches, "|", " and ")
}

// auditQuestions are for the discussion.
func auditQuestions(a *review.Audit, w words) *section {
	if len(a.Questions) == 0 {
		return nil
	}
	s := &section{ID: "questions", Title: "Questions to discuss", Lead: "What can be learned here, and what would you keep?"}
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
func auditMethod(a *review.Audit, _ words) *section {
	s := &section{ID: "method", Title: "How was this worked out?", Lead: "Days are counted from the day of the records. The page names nobody: it holds the case’s pseudonym and no clinician, clinic, laboratory or date."}
	for _, id := range []string{review.Adjustments, review.SoreSpots, review.Remake} {
		s.Definitions = append(s.Definitions, definition{outcomes[id].Title, outcomes[id].Definition})
	}
	s.Definitions = append(s.Definitions, auditDefinitions...)
	if len(a.Expected) > 0 {
		s.Definitions = append(s.Definitions, definition{"Method of the expected figures", sentenceCase(a.Expected[0].Like.Method) + " (question audit_like). Not adjusted beyond what like dentures share."})
	}
	return s
}
