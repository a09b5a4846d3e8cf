package page

import (
	"fmt"
	"html/template"
	"math"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// ownRatios shows the reader's figures beside what their own cases predict. Colleagues
// are unlabelled rings.
func ownRatios(s *review.Summary, w words) *section {
	sec := &section{ID: "beside", Title: "Your figures beside what your cases predict", Notes: []string{
		"Your cases’ arch, ridge class, age and course are taken into account, and how long each denture has been followed. A point outside the limits asks first whether the data is right, then whether your cases were harder in ways nobody recorded, then whether it is chance.",
	}}
	t := &table{Caption: "Table: your ratios", Head: []column{{"Outcome", false}, {"n", true}, {"Observed", true}, {"Expected", true}, {"Ratio", true}, {"Interval", true}, {"Shrunken", true}, {"Where", false}, {"To know of a quarter more", false}}}
	for _, o := range s.Beside {
		u := o.Own
		row := []string{outcomeOf(o.Outcome).Title, count(u.Ratio.N), count(u.Ratio.Events), number(u.Expected, 1)}
		if !told(u.Ratio) {
			t.Rows = append(t.Rows, append(row, "", "", "", tooFew(u.Ratio), ownKnow(u.Know)))
			continue
		}
		t.Rows = append(t.Rows, append(row, number(u.Ratio.Value, 2), ratioLimits(u.Ratio), number(u.Shrunk.Value, 2), flagWords(u), ownKnow(u.Know)))
		if o.Outcome == review.Adjustments || u.Flag != 0 {
			sec.Figures = append(sec.Figures, ownFunnel(o))
		}
		if u.Flag != 0 {
			sec.Cards = append(sec.Cards, card{Title: outcomeOf(o.Outcome).Title + ": outside the limits", Texts: []string{"Data first. " + checkWords(u.Checks), "Then case mix: " + ratioShort(u.Ratio) + " what your cases predict.", "Then chance. " + chanceWords(review.UnitTable{Dimension: "clinician"}, u)}})
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	sec.Lead = ownRatioLead(s.Beside)
	if len(sec.Figures) == 0 {
		sec.Figures = []figure{{ID: "own-ratios"}}
	}
	sec.Figures[len(sec.Figures)-1].Table = t
	return sec
}

func ownRatioLead(all []review.OwnBeside) string {
	for _, o := range all {
		if o.Outcome == review.Adjustments && told(o.Own.Ratio) {
			return fmt.Sprintf("%s: %s where your cases lead to expect %s, %s; %s.", outcomeOf(o.Outcome).Title, count(o.Own.Ratio.Events), number(o.Own.Expected, 0), ratioShort(o.Own.Ratio), map[bool]string{true: "inside the limits of what chance would do", false: flagWords(o.Own) + " limits"}[o.Own.Flag == 0])
		}
	}
	return "Too few events so far to set your figures beside an expectation."
}

// ownKnow tells how much longer until a difference would show.
func ownKnow(k *review.Know) string {
	switch {
	case k == nil:
		return "–"
	case k.Months == 0:
		return "enough by now"
	case !k.Months.Known():
		return count(k.Need) + " dentures"
	}
	return fmt.Sprintf("%s more dentures, about %s", count(k.Need-k.Have), plural(int64(k.Months), "month"))
}

// ownFunnel draws the reader among colleagues, with the reader's own course beside it.
func ownFunnel(o review.OwnBeside) figure {
	var dots []chart.FunnelDot
	for _, p := range o.Peers {
		dots = append(dots, chart.FunnelDot{Size: float64(p.Expected), Ratio: value64(p.Ratio), Faint: true})
	}
	dots = append(dots, chart.FunnelDot{Size: float64(o.Own.Expected), Ratio: float64(o.Own.Ratio.Value), Own: true, Name: "you"})
	title := outcomeOf(o.Outcome).Title + " beside what your cases predict"
	fig := figure{ID: "own-funnel-" + o.Outcome, Title: title}
	svg := chart.DrawFunnel(dots, funnelLimits(review.UnitTable{Curve: o.Curve}), "events expected", title)
	if len(o.Quarters) > 1 {
		svg += chart.DrawCourse(ownCourse(o))
	}
	fig.SVG = template.HTML(svg)
	fig.Caption = "Disc: you; rings: colleagues, unlabelled. Dashed and solid lines: 95% and 99.8% limits. Below: your observed over expected by period of records; 1 is as expected, single periods rest on few dentures."
	if o.Watch != nil && len(o.Watch.Signals) > 0 {
		fig.Caption += fmt.Sprintf(" The evidence for a rate of %s times the expected one, added up, passed its limit at %s; with no raised rate that happens once in %s.", number(review.Num(o.Watch.Ratio), 2), o.Watch.Signals[0], falseAlarm(*o.Watch))
	}
	return fig
}

func ownCourse(o review.OwnBeside) chart.Course {
	c := chart.Course{Center: 1, CenterName: "as expected", Unit: "times expected", Title: "Your observed over expected by period"}
	line := chart.CourseLine{Kind: chart.Service}
	for i, p := range o.Quarters {
		c.Periods = append(c.Periods, p.Period)
		c.Low, c.High = append(c.Low, math.NaN()), append(c.High, math.NaN())
		line.Points = append(line.Points, chart.CoursePoint{At: i, Value: value64(p.Value), Open: p.Immature})
	}
	c.Lines = []chart.CourseLine{line}
	return c
}
