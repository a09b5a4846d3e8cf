package page

import (
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// auditDays are the days on which anything happened, each once, ascending.
func auditDays(a *review.Audit) []int64 {
	var days []int64
	for _, d := range a.Dentures {
		if d.Delivered != nil {
			days = append(days, *d.Delivered)
		}
	}
	for _, v := range a.Visits {
		days = append(days, v.Day)
	}
	for _, r := range a.Repairs {
		days = append(days, r.Day)
	}
	slices.Sort(days)
	return slices.Compact(days)
}

func timelineSVG(a *review.Audit, title string) template.HTML {
	var lanes []chart.Lane
	first := int64(-1)
	for _, d := range a.Dentures {
		l := chart.Lane{Name: sentenceCase(d.Arch), From: -1, To: -1, Marks: laneMarks(a, d.Arch)}
		if d.Delivered != nil && d.End != nil {
			l.From, l.To = *d.Delivered, *d.End
			if first < 0 || l.From < first {
				first = l.From
			}
			l.Marks = append([]chart.Mark{{Day: l.From, Kind: chart.MarkDelivery, Title: "Day " + count(l.From) + ": delivery"}}, l.Marks...)
		}
		lanes = append(lanes, l)
	}
	if rest := laneMarks(a, ""); len(rest) > 0 {
		lanes = append(lanes, chart.Lane{Name: "Not stated", From: -1, To: -1, Marks: rest})
	}
	last := a.Case.ObservedTo
	if days := auditDays(a); len(days) > 0 {
		last = max(last, days[len(days)-1])
	}
	return template.HTML(chart.Timeline(lanes, first, last, "Timeline. "+title))
}

// laneMarks are the visits and the work of one arch, "" for visits that name none.
func laneMarks(a *review.Audit, arch string) []chart.Mark {
	var out []chart.Mark
	for _, v := range a.Visits {
		if v.Arch != arch && (v.Arch != "both" || arch == "") {
			continue
		}
		m := chart.Mark{Day: v.Day, Kind: chart.MarkSeen, Title: fmt.Sprintf("Day %s, visit %d: %s", count(v.Day), v.Number, notEmpty(spaced(v.Reason)))}
		if v.Adjusted {
			m.Kind = chart.MarkAdjusted
			m.Title += ", adjusted"
		}
		for _, p := range v.Spots {
			if p.Arch == arch || arch == "" {
				m.Spots++
			}
		}
		if m.Spots > 0 {
			m.Title += ", " + plural(int64(m.Spots), "sore spot")
		}
		out = append(out, m)
	}
	for _, r := range a.Repairs {
		if r.Arch != arch {
			continue
		}
		m := chart.Mark{Day: r.Day, Kind: chart.MarkRepair, Title: fmt.Sprintf("Day %s: %s", count(r.Day), spaced(r.Scope))}
		if r.Scope == "remake" {
			m.Kind = chart.MarkRemake
		}
		out = append(out, m)
	}
	slices.SortStableFunc(out, func(x, y chart.Mark) int { return int(x.Day - y.Day) })
	return out
}

// sore is one place with the visits at which it was sore and the worst grade seen.
type sore struct {
	zone, side string
	visits     []int
	worst      int64
}

func soreOf(a *review.Audit, arch string) []sore {
	var out []sore
	for _, v := range a.Visits {
		for _, p := range v.Spots {
			if p.Arch != arch {
				continue
			}
			i := slices.IndexFunc(out, func(s sore) bool { return s.zone == p.Zone && s.side == p.Side })
			if i < 0 {
				out, i = append(out, sore{zone: p.Zone, side: p.Side}), len(out)
			}
			if !slices.Contains(out[i].visits, v.Number) {
				out[i].visits = append(out[i].visits, v.Number)
			}
			out[i].worst = max(out[i].worst, p.Grade)
		}
	}
	return out
}

// auditZones draws the sore places by visit.
func auditZones(a *review.Audit, _ words) *section {
	s := &section{ID: "zones", Title: "Where did it hurt, and when?",
		Notes: []string{"The numbers in the drawing are those of the visits at which the place was sore; darker means sore at more visits. Sides are the patient’s own."}}
	places, again := 0, 0
	for _, arch := range []string{"upper", "lower"} {
		found := soreOf(a, arch)
		if len(found) == 0 {
			continue
		}
		places += len(found)
		for _, f := range found {
			again += min(1, len(f.visits)-1)
		}
		s.Figures = append(s.Figures, soreFigure(arch, found))
	}
	if places == 0 {
		return nil
	}
	s.Lead = plural(int64(places), "place") + " sore at one visit or more; " + plural(int64(again), "place") + " at more than one."
	return s
}

// mostVisits is how many visits' numbers a place has room for.
const mostVisits = 2

func soreFigure(arch string, found []sore) figure {
	var drawn []chart.Zone
	t := &table{Caption: "Table: sore places of the " + arch, Head: []column{{"Place", false}, {"Sore at visits", true}, {"How many", true}, {"Worst grade seen", false}}}
	undrawn := 0
	for _, f := range found {
		visits := joinNumbers(f.visits)
		text := visits
		if len(f.visits) > mostVisits {
			text = strconv.Itoa(len(f.visits)) + "×"
		}
		name := placeOf(f.zone, f.side)
		drawn = append(drawn, chart.Zone{Zone: f.zone, Side: f.side, Name: name, Value: float64(len(f.visits)), Text: text, Full: "sore at visit " + visits})
		if !chart.Drawable(arch, f.zone, f.side) {
			undrawn++
		}
		worst := "not recorded"
		if f.worst > 0 {
			worst = spotGrade(f.worst)
		}
		t.Rows = append(t.Rows, []string{sentenceCase(name), visits, count(int64(len(f.visits))), worst})
	}
	fig := figure{ID: "sore-" + arch, Title: sentenceCase(arch), SVG: template.HTML(chart.ZoneMap(arch, drawn, 4, "Sore places of the "+arch+" by visit")), Table: t}
	if undrawn > 0 {
		fig.Caption = plural(int64(undrawn), "place") + " recorded without a side that the drawing has; see the table."
	}
	return fig
}

func joinNumbers(numbers []int) string {
	text := make([]string, len(numbers))
	for i, n := range numbers {
		text[i] = strconv.Itoa(n)
	}
	return strings.Join(text, ", ")
}
