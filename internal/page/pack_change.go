package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// didItWork shows what became of each stated change, the habit first: a change that
// moved no habit has nothing to work through.
func didItWork(f *review.Findings, w words) *section {
	if len(f.Changes) == 0 {
		return nil
	}
	s := &section{ID: "change", Title: w.Say("change.title"), Notes: []string{
		w.Say("change.note"),
	}}
	for _, c := range f.Changes {
		if s.Lead == "" {
			s.Lead = changeLead(c, w)
		}
		s.Figures = append(s.Figures, changeFigures(c, w)...)
		for _, text := range c.Warnings {
			s.Notes = append(s.Notes, w.Say("sentence.about", "about", isolated(c.Change.Name), "said", w.found(text)))
		}
	}
	return s
}

// measureName names an outcome or the habit that a change was to move.
func (w words) measureName(id string) string {
	if h, ok := strings.CutPrefix(id, review.HabitPrefix); ok {
		return w.Say("change.habit", "habit", w.habit(h))
	}
	return w.outcomeTitle(id)
}

func changeLead(c review.ChangeResult, w words) string {
	if len(c.Estimates) == 0 {
		return w.Say("change.nothing", "change", isolated(c.Change.Name))
	}
	said := []string{w.Say("change.made", "change", isolated(c.Change.Name), "from", w.Period(c.Change.From), "where", w.where(c.Change))}
	for _, e := range c.Estimates[:min(2, len(c.Estimates))] {
		said = append(said, w.step(e))
	}
	return followed(said...)
}

// where lists the places of a change.
func (w words) where(c review.Change) string {
	return strings.Join(c.Where, ", ")
}

// step tells one measure before and after, there and elsewhere.
func (w words) step(e review.ChangeEstimate) string {
	measure := sentenceCase(w.measureName(e.Measure))
	if e.Ratio.TooFew != "" {
		return w.Say("change.too_few", "measure", measure, "why", w.within(w.tooFew(e.Ratio)))
	}
	went := "unclear"
	switch {
	case e.Ratio.High < 1:
		went = "fell"
	case e.Ratio.Low > 1:
		went = "rose"
	}
	return w.Say("change.step",
		"measure", measure, "before", w.figureOf(e.Places[0]), "after", w.figureOf(e.Places[1]), "elsewhere", yes(e.Others[0].N > 0), "other_before", w.figureOf(e.Others[0]), "other_after", w.figureOf(e.Others[1]),
		"unit", w.unitAfter(e.Places[1]), "factor", w.number(e.Ratio.Value, 2), "level", w.level(e.Ratio), "range", w.ratioLimits(e.Ratio), "went", went)
}

func changeFigures(c review.ChangeResult, w words) []figure {
	var out []figure
	t := &table{Caption: w.caption(isolated(c.Change.Name)), Head: w.columns("measure", "#there_before", "#there_after", "#elsewhere_before", "#elsewhere_after", "#factor", "#interval", "dates_without_a_change", "method")}
	for i, e := range c.Estimates {
		row := []string{sentenceCase(w.measureName(e.Measure)), w.short(e.Places[0]), w.short(e.Places[1]), w.short(e.Others[0]), w.short(e.Others[1])}
		if e.Ratio.TooFew == "" {
			row = append(row, w.number(e.Ratio.Value, 2), w.ratioLimits(e.Ratio))
		} else {
			row = append(row, w.tooFew(e.Ratio), "")
		}
		t.Rows = append(t.Rows, append(row, w.placebos(e), w.found(e.Ratio.Method)))
		if i > 1 || len(e.Series) == 0 {
			continue
		}
		title := w.Say("change.figure", "measure", sentenceCase(w.measureName(e.Measure)))
		fig := figure{ID: fmt.Sprintf("change-%d-%s", i, strings.ReplaceAll(e.Measure, ":", "-")), Title: title, Lead: w.step(e)}
		if i == 0 {
			fig.Lead = ""
		}
		fig.SVG = template.HTML(chart.DrawCourse(w.Catalogue, w.changeCourse(c, e, title)))
		fig.Caption = followed(w.Say("change.caption", "n", e.Ratio.N, "where", w.where(c.Change)), w.axisNote(e.Places[0]))
		fig.Caption = followed(append([]string{fig.Caption}, w.allFound(e.Warnings)...)...)
		out = append(out, fig)
	}
	if len(out) == 0 {
		out = []figure{{ID: "change-table"}}
	}
	out[len(out)-1].Table = t
	return out
}

func (w words) placebos(e review.ChangeEstimate) string {
	var out []string
	for _, p := range e.Placebos {
		if p.Ratio.TooFew == "" {
			out = append(out, w.Say("change.placebo", "from", w.Period(p.From), "factor", w.number(p.Ratio.Value, 2), "range", w.ratioLimits(p.Ratio)))
		}
	}
	if len(out) == 0 {
		return w.Say("change.no_placebo")
	}
	return strings.Join(out, "; ")
}

func (w words) changeCourse(c review.ChangeResult, e review.ChangeEstimate, title string) chart.Course {
	out := chart.Course{Center: math.NaN(), Unit: w.axisName(e.Places[0].Unit), Title: title}
	for _, s := range e.Series {
		for _, p := range s.Points {
			if !slices.Contains(out.Periods, p.Period) {
				out.Periods = append(out.Periods, p.Period)
			}
		}
	}
	slices.Sort(out.Periods)
	for _, s := range e.Series {
		line := chart.CourseLine{Kind: chart.Service, Name: w.where(c.Change)}
		if s.Side == "others" {
			line.Kind, line.Name = chart.Rest, w.Say("change.elsewhere")
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
func howLong(f *review.Findings, w words) *section {
	if len(f.Know) == 0 {
		return nil
	}
	s := &section{ID: "know", Title: w.Say("know.title"), Notes: []string{
		w.Say("know.note"),
	}}
	if n := f.Coverage.Delivered; n < leastCurve { // a handful has neither a rate nor a pace
		s.Lead, s.Notes = w.Say("zones.too_few", "n", n, "least", leastCurve), nil
		return s
	}
	t := &table{Caption: w.caption(w.Say("know.table")), Open: true, Head: w.columns("outcome", "#times", "#dentures_in_each_of_two_periods", "#months_a_period_at_the_present_pace", "#clinicians_who_have_enough", "#months_more_for_the_others")}
	for _, k := range f.Know {
		enough, all, months := w.clinicianMonths(f, k.Outcome)
		t.Rows = append(t.Rows, []string{w.outcomeTitle(k.Outcome), w.number(review.Num(k.Ratio), 2), w.count(k.Need), w.number(k.Months, 0), w.Say("know.of", "enough", enough, "all", all), months})
	}
	k := f.Know[0]
	s.Lead = w.Say("know.lead",
		"outcome", w.outcomeName(k.Outcome), "times", w.number(review.Num(k.Ratio), 2), "dentures", k.Need, "months", int64(k.Months))
	s.Figures = []figure{{ID: "know-table", Table: t}}
	return s
}

// clinicianMonths counts the clinicians that have enough dentures and gives the range
// of months for the others.
func (w words) clinicianMonths(f *review.Findings, id string) (enough, all int, months string) {
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
		return enough, all, wording.None
	}
	return enough, all, w.span(w.number(review.Num(low), 0), w.number(review.Num(high), 0))
}
