package page

import (
	"html/template"
	"slices"
	"strconv"
	"unicode/utf8"

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

func (w words) timelineSVG(a *review.Audit, title string) template.HTML {
	var lanes []chart.Lane
	first := int64(-1)
	for _, d := range a.Dentures {
		l := chart.Lane{Name: sentenceCase(w.own(d.Arch)), From: -1, To: -1, Marks: w.laneMarks(a, d.Arch)}
		if d.Delivered != nil && d.End != nil {
			l.From, l.To = *d.Delivered, *d.End
			if first < 0 || l.From < first {
				first = l.From
			}
			l.Marks = append([]chart.Mark{{Day: l.From, Kind: chart.MarkDelivery, Title: w.Say("timeline.mark_delivery", "day", l.From)}}, l.Marks...)
		}
		lanes = append(lanes, l)
	}
	if rest := w.laneMarks(a, ""); len(rest) > 0 {
		lanes = append(lanes, chart.Lane{Name: w.Say("timeline.not_stated"), From: -1, To: -1, Marks: rest})
	}
	last := a.Case.ObservedTo
	if days := auditDays(a); len(days) > 0 {
		last = max(last, days[len(days)-1])
	}
	return template.HTML(chart.Timeline(w.Catalogue, lanes, first, last, w.titled(w.Say("timeline.alt"), title)))
}

// laneMarks are the visits and the work of one arch, "" for visits that name none.
func (w words) laneMarks(a *review.Audit, arch string) []chart.Mark {
	var out []chart.Mark
	for _, v := range a.Visits {
		if v.Arch != arch && (v.Arch != "both" || arch == "") {
			continue
		}
		m := chart.Mark{Day: v.Day, Kind: chart.MarkSeen}
		if v.Adjusted {
			m.Kind = chart.MarkAdjusted
		}
		for _, p := range v.Spots {
			if p.Arch == arch || arch == "" {
				m.Spots++
			}
		}
		m.Title = w.Say("timeline.mark_visit", "day", v.Day, "visit", v.Number, "reason", w.notEmpty(w.code(v.Reason)), "adjusted", yes(v.Adjusted), "spots", m.Spots)
		out = append(out, m)
	}
	for _, r := range a.Repairs {
		if r.Arch != arch {
			continue
		}
		m := chart.Mark{Day: r.Day, Kind: chart.MarkRepair, Title: w.Say("timeline.mark", "day", r.Day, "what", w.code(r.Scope))}
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
func auditZones(a *review.Audit, w words) *section {
	s := &section{ID: "zones", Title: w.Say("sore.title"),
		Notes: []string{w.Say("sore.note")}}
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
		s.Figures = append(s.Figures, w.soreFigure(arch, found))
	}
	if places == 0 {
		return nil
	}
	s.Lead = w.Say("sore.lead", "places", places, "again", again)
	return s
}

// roomForVisits is how many characters of visits' numbers a place has room for.
const roomForVisits = 5

func (w words) soreFigure(arch string, found []sore) figure {
	var drawn []chart.Zone
	t := &table{Caption: w.caption(w.Say("sore.table", "arch", w.own(arch))), Head: w.columns("place", "#sore_at_visits", "#how_many", "worst_grade_seen")}
	undrawn := 0
	for _, f := range found {
		visits := joinNumbers(f.visits)
		text := visits
		if utf8.RuneCountInString(visits) > roomForVisits {
			text = strconv.Itoa(len(f.visits)) + "×"
		}
		name := w.placeOf(f.zone, f.side)
		drawn = append(drawn, chart.Zone{Zone: f.zone, Side: f.side, Name: name, Value: float64(len(f.visits)), Text: text, Full: w.Say("sore.at", "visits", visits)})
		if !chart.Drawable(arch, f.zone, f.side) {
			undrawn++
		}
		worst := w.Say("word.not_recorded")
		if f.worst > 0 {
			worst = w.spotGrade(f.worst)
		}
		t.Rows = append(t.Rows, []string{sentenceCase(name), visits, w.count(int64(len(f.visits))), worst})
	}
	fig := figure{ID: "sore-" + arch, Title: sentenceCase(w.own(arch)), SVG: template.HTML(chart.ZoneMap(w.Catalogue, arch, drawn, 4, w.Say("sore.alt", "arch", w.own(arch)))), Table: t}
	if undrawn > 0 {
		fig.Caption = w.Say("sore.undrawn", "places", undrawn)
	}
	return fig
}
