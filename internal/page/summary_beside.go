package page

import (
	"html/template"
	"math"

	"afterfit/internal/chart"
	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// ownRatios shows the reader's figures beside what their own cases predict. Colleagues
// are unlabelled rings.
func ownRatios(s *review.Summary, w words) *section {
	sec := &section{ID: "beside", Title: w.Say("own_ratios.title"), Notes: []string{
		w.Say("own_ratios.note"),
	}}
	t := &table{Caption: w.caption(w.Say("own_ratios.table")), Head: w.columns("outcome", "#n", "#observed", "#expected", "#ratio", "#interval", "#shrunken", "where", "to_know_of_a_quarter_more")}
	for _, o := range s.Beside {
		u := o.Own
		row := []string{w.outcomeTitle(o.Outcome), w.count(u.Ratio.N), w.count(u.Ratio.Events), w.number(u.Expected, 1)}
		if !told(u.Ratio) {
			t.Rows = append(t.Rows, append(row, "", "", "", w.tooFew(u.Ratio), w.ownKnow(u.Know)))
			continue
		}
		t.Rows = append(t.Rows, append(row, w.number(u.Ratio.Value, 2), w.ratioLimits(u.Ratio), w.number(u.Shrunk.Value, 2), w.flag(u), w.ownKnow(u.Know)))
		if o.Outcome == review.Adjustments || u.Flag != 0 {
			sec.Figures = append(sec.Figures, w.ownFunnel(o))
		}
		if u.Flag != 0 {
			sec.Cards = append(sec.Cards, card{Title: w.Say("own_ratios.outside", "outcome", w.outcomeTitle(o.Outcome)), Texts: []string{w.Say("own_ratios.data", "said", w.checks(u.Checks)), w.Say("own_ratios.mix", "times", w.ratioShort(u.Ratio)), w.Say("own_ratios.chance", "said", w.chanceOf("clinician", u))}})
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	sec.Lead = w.ownRatioLead(s.Beside)
	if len(sec.Figures) == 0 {
		sec.Figures = []figure{{ID: "own-ratios"}}
	}
	sec.Figures[len(sec.Figures)-1].Table = t
	return sec
}

func (w words) ownRatioLead(all []review.OwnBeside) string {
	for _, o := range all {
		if o.Outcome == review.Adjustments && told(o.Own.Ratio) {
			return w.Say("own_ratios.lead",
				"outcome", w.outcomeTitle(o.Outcome), "events", o.Own.Ratio.Events, "expected", w.number(o.Own.Expected, 0), "times", w.ratioShort(o.Own.Ratio), "flag", flagOf(o.Own))
		}
	}
	return w.Say("own_ratios.too_few")
}

// ownKnow tells how much longer until a difference would show.
func (w words) ownKnow(k *review.Know) string {
	switch {
	case k == nil:
		return wording.None
	case k.Months == 0:
		return w.Say("own_ratios.enough")
	case !k.Months.Known():
		return w.Say("own_ratios.need", "n", k.Need)
	}
	return w.Say("own_ratios.more", "n", k.Need-k.Have, "months", int64(k.Months))
}

// ownFunnel draws the reader among colleagues, with the reader's own course beside it.
func (w words) ownFunnel(o review.OwnBeside) figure {
	var dots []chart.FunnelDot
	for _, p := range o.Peers {
		dots = append(dots, chart.FunnelDot{Size: float64(p.Expected), Ratio: value64(p.Ratio), Faint: true})
	}
	dots = append(dots, chart.FunnelDot{Size: float64(o.Own.Expected), Ratio: float64(o.Own.Ratio.Value), Own: true, Name: w.Say("chart.you")})
	title := w.Say("own_ratios.funnel", "outcome", w.outcomeTitle(o.Outcome))
	fig := figure{ID: "own-funnel-" + o.Outcome, Title: title}
	svg := chart.DrawFunnel(w.Catalogue, dots, funnelLimits(review.UnitTable{Curve: o.Curve}), w.Say("funnel.events"), title)
	if len(o.Quarters) > 1 {
		svg += chart.DrawCourse(w.Catalogue, w.ownCourse(o))
	}
	fig.SVG = template.HTML(svg)
	fig.Caption = w.Say("own_ratios.caption")
	if o.Watch != nil && len(o.Watch.Signals) > 0 {
		fig.Caption = followed(fig.Caption, w.Say("own_ratios.watch", "times", w.number(review.Num(o.Watch.Ratio), 2), "period", w.Period(o.Watch.Signals[0]), "every", w.falseAlarm(*o.Watch)))
	}
	return fig
}

func (w words) ownCourse(o review.OwnBeside) chart.Course {
	c := chart.Course{Center: 1, CenterName: w.Say("word.as_expected"), Unit: w.Say("chart.times_expected"), Title: w.Say("own_ratios.course")}
	line := chart.CourseLine{Kind: chart.Service}
	for i, p := range o.Quarters {
		c.Periods = append(c.Periods, p.Period)
		c.Low, c.High = append(c.Low, math.NaN()), append(c.High, math.NaN())
		line.Points = append(line.Points, chart.CoursePoint{At: i, Value: value64(p.Value), Open: p.Immature})
	}
	c.Lines = []chart.CourseLine{line}
	return c
}
