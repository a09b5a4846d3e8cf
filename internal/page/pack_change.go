package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// didItWork shows what became of each stated change, the habit first: a change that
// moved no habit has nothing to work through.
func didItWork(f *review.Findings, w words) *section {
	if len(f.Changes) == 0 {
		return nil
	}
	s := &section{ID: "change", Title: "Did the change work?", Notes: []string{
		"Each figure is the factor by which a measure moved where the change was made, over the factor elsewhere in the same periods, case mix taken out. It is association in time: whatever else began there at the same time is in it too.",
	}}
	for _, c := range f.Changes {
		if s.Lead == "" {
			s.Lead = changeLead(c, w)
		}
		s.Figures = append(s.Figures, changeFigures(c, w)...)
		for _, text := range c.Warnings {
			s.Notes = append(s.Notes, isolated(c.Change.Name)+": "+text)
		}
	}
	return s
}

// measureName names an outcome or the habit that a change was to move.
func (w words) measureName(id string) string {
	if h, ok := strings.CutPrefix(id, review.HabitPrefix); ok {
		return "habit “" + w.habit(h) + "”"
	}
	return outcomeOf(id).Title
}

func changeLead(c review.ChangeResult, w words) string {
	if len(c.Estimates) == 0 {
		return isolated(c.Change.Name) + ": nothing can be said yet."
	}
	s := fmt.Sprintf("%s, from %s at %s. ", isolated(c.Change.Name), c.Change.From, strings.Join(c.Change.Where, ", "))
	for _, e := range c.Estimates[:min(2, len(c.Estimates))] {
		s += stepWords(e, w) + " "
	}
	return strings.TrimSpace(s)
}

// stepWords tell one measure before and after, there and elsewhere.
func stepWords(e review.ChangeEstimate, w words) string {
	s := sentenceCase(w.measureName(e.Measure)) + ": "
	if e.Ratio.TooFew != "" {
		return s + strings.TrimSuffix(strings.ToLower(e.Ratio.TooFew[:1])+e.Ratio.TooFew[1:], ".") + "."
	}
	s += fmt.Sprintf("from %s to %s there", figureOf(e.Places[0]), figureOf(e.Places[1]))
	if e.Others[0].N > 0 {
		s += fmt.Sprintf(", from %s to %s elsewhere", figureOf(e.Others[0]), figureOf(e.Others[1]))
	}
	s += unitAfter(e.Places[1]) + ", a factor of " + number(e.Ratio.Value, 2) + " (" + level(e.Ratio) + "interval " + ratioLimits(e.Ratio) + ")"
	if e.Others[0].N > 0 {
		s += " against the others"
	}
	switch {
	case e.Ratio.High < 1:
		return s + ": it fell."
	case e.Ratio.Low > 1:
		return s + ": it rose."
	}
	return s + ": no clear change; the interval says how large a change could still hide."
}

func changeFigures(c review.ChangeResult, w words) []figure {
	var out []figure
	t := &table{Caption: "Table: " + isolated(c.Change.Name), Head: []column{{"Measure", false}, {"There, before", true}, {"There, after", true}, {"Elsewhere, before", true}, {"Elsewhere, after", true}, {"Factor", true}, {"Interval", true}, {"Dates without a change", false}, {"Method", false}}}
	for i, e := range c.Estimates {
		row := []string{sentenceCase(w.measureName(e.Measure)), short(e.Places[0]), short(e.Places[1]), short(e.Others[0]), short(e.Others[1])}
		if e.Ratio.TooFew == "" {
			row = append(row, number(e.Ratio.Value, 2), ratioLimits(e.Ratio))
		} else {
			row = append(row, tooFew(e.Ratio), "")
		}
		t.Rows = append(t.Rows, append(row, placeboWords(e), e.Ratio.Method))
		if i > 1 || len(e.Series) == 0 {
			continue
		}
		title := sentenceCase(w.measureName(e.Measure)) + ": where changed, and elsewhere"
		fig := figure{ID: fmt.Sprintf("change-%d-%s", i, strings.ReplaceAll(e.Measure, ":", "-")), Title: title, Lead: stepWords(e, w)}
		if i == 0 {
			fig.Lead = ""
		}
		fig.SVG = template.HTML(chart.DrawCourse(changeCourse(c, e, title)))
		fig.Caption = fmt.Sprintf("n = %s dentures. Solid: %s; dashed: the other sites. The upright line is the change.%s", count(e.Ratio.N), strings.Join(c.Change.Where, ", "), axisNote(e.Places[0]))
		if len(e.Warnings) > 0 {
			fig.Caption += " " + strings.Join(e.Warnings, " ")
		}
		out = append(out, fig)
	}
	if len(out) == 0 {
		out = []figure{{ID: "change-table"}}
	}
	out[len(out)-1].Table = t
	return out
}

func placeboWords(e review.ChangeEstimate) string {
	var out []string
	for _, p := range e.Placebos {
		if p.Ratio.TooFew == "" {
			out = append(out, p.From+": "+number(p.Ratio.Value, 2)+" ("+ratioLimits(p.Ratio)+")")
		}
	}
	if len(out) == 0 {
		return "none could be tried"
	}
	return strings.Join(out, "; ")
}

func changeCourse(c review.ChangeResult, e review.ChangeEstimate, title string) chart.Course {
	out := chart.Course{Center: math.NaN(), Unit: axisName(e.Places[0].Unit), Title: title}
	for _, s := range e.Series {
		for _, p := range s.Points {
			if !slices.Contains(out.Periods, p.Period) {
				out.Periods = append(out.Periods, p.Period)
			}
		}
	}
	slices.Sort(out.Periods)
	for _, s := range e.Series {
		line := chart.CourseLine{Kind: chart.Service, Name: strings.Join(c.Change.Where, ", ")}
		if s.Side == "others" {
			line.Kind, line.Name = chart.Rest, "elsewhere"
		}
		for _, p := range s.Points {
			line.Points = append(line.Points, chart.CoursePoint{At: slices.Index(out.Periods, p.Period), Value: value64(p.Value)})
		}
		out.Lines = append(out.Lines, line)
	}
	if at := startOf(out.Periods, c.Change.From); at > 0 {
		out.Marks = []chart.CourseMark{{At: at, Name: c.Change.Name}}
	}
	return out
}

// howLong tells how much more data would answer.
func howLong(f *review.Findings, _ words) *section {
	if len(f.Know) == 0 {
		return nil
	}
	s := &section{ID: "know", Title: "How long until we would know?", Notes: []string{
		"Worked out for 80% power at the 5% level, with the scatter of patients’ events as measured. Figures for clinicians are ranges over all of them; each finds their own on their private page.",
	}}
	t := &table{Caption: "Table: dentures and months needed", Open: true, Head: []column{{"Outcome", false}, {"Times", true}, {"Dentures in each of two periods", true}, {"Months a period at the present pace", true}, {"Clinicians who have enough", true}, {"Months more for the others", true}}}
	for _, k := range f.Know {
		enough, all, months := clinicianMonths(f, k.Outcome)
		t.Rows = append(t.Rows, []string{outcomeOf(k.Outcome).Title, number(review.Num(k.Ratio), 2), count(k.Need), number(k.Months, 0), fmt.Sprintf("%d of %d", enough, all), months})
	}
	k := f.Know[0]
	s.Lead = fmt.Sprintf("To see %s rise to %s times its rate takes %s dentures in each of two periods: about %s at the present pace.", strings.ToLower(outcomeOf(k.Outcome).Title), number(review.Num(k.Ratio), 2), count(k.Need), plural(int64(k.Months), "month"))
	s.Figures = []figure{{ID: "know-table", Table: t}}
	return s
}

// clinicianMonths counts the clinicians that have enough dentures and gives the range
// of months for the others.
func clinicianMonths(f *review.Findings, id string) (enough, all int, months string) {
	low, high := math.Inf(1), 0.0
	for _, t := range f.Units {
		if t.Outcome != id || t.Dimension != "clinician" {
			continue
		}
		for _, u := range t.Units {
			switch {
			case u.Know == nil:
				continue
			case u.Know.Months == 0:
				enough++
			case u.Know.Months.Known():
				low, high = math.Min(low, float64(u.Know.Months)), math.Max(high, float64(u.Know.Months))
			}
			all++
		}
	}
	if high == 0 {
		return enough, all, "–"
	}
	return enough, all, number(review.Num(low), 0) + " to " + number(review.Num(high), 0)
}
