package page

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// panel is one small picture of several that stand side by side.
type panel struct {
	Title, Text string
	SVG         template.HTML
}

// auditRecords sets what was recorded beside what is usual and what the house records.
func auditRecords(a *review.Audit, _ words) *section {
	if len(a.Values) == 0 && len(a.Entries) == 0 {
		return nil
	}
	s := &section{ID: "records", Title: "What was recorded?", Lead: recordsLead(a.Values),
		Notes: []string{"The grey band holds the middle nine tenths of what this house recorded, with the median as a dashed line; the bracket is what is usual, where there is such a value. Outside either is a reason to look, not a fault."}}
	if len(a.Values) > 0 {
		s.Figures = append(s.Figures, valuesFigure(a.Values))
	}
	if len(a.Entries) > 0 {
		s.Figures = append(s.Figures, figure{ID: "choices", Title: "Choices", Table: entryTable(a.Entries)})
	}
	return s
}

// auditHabits shows what the records of this case show.
func auditHabits(a *review.Audit, w words) *section {
	if len(a.Habits) == 0 {
		return nil
	}
	s := &section{ID: "habits", Title: "Which habits do the records show?", Lead: plural(int64(len(a.Habits)), "habit") + ". A habit is a way of taking records and not a fault; the meeting pack says what goes with it."}
	for _, h := range a.Habits {
		s.Cards = append(s.Cards, habitCard(h, w))
	}
	return s
}

func recordsLead(values []review.AuditValue) string {
	var missing, outside []string
	for _, v := range values {
		switch name := valueName(v.Arch, v.Field); {
		case !v.Value.Known():
			missing = append(missing, name)
		case v.OutsideUsual():
			outside = append(outside, name)
		}
	}
	s := fmt.Sprintf("%d of %d values are recorded", len(values)-len(missing), len(values))
	if len(missing) > 0 {
		s += "; not recorded: " + strings.Join(missing, ", ")
	}
	if len(outside) == 0 {
		return s + ". None lies outside a usual range."
	}
	return s + ". Outside the usual range: " + strings.Join(outside, ", ") + "."
}

// valueName is "most tray clearance (lower)".
func valueName(arch, field string) string {
	name := strings.ToLower(fieldTitle(field)[:1]) + fieldTitle(field)[1:]
	if arch != "" {
		name += " (" + arch + ")"
	}
	return name
}

func valuesFigure(values []review.AuditValue) figure {
	fig := figure{ID: "values", Title: "Measured and counted"}
	t := &table{Caption: "Table: measured and counted", Head: []column{{"Value", false}, {"This case", true}, {"Usual", true}, {"Where “usual” comes from", false}, {"House, middle nine tenths", true}, {"House, median", true}, {"n", true}}}
	for _, v := range values {
		unit := unitOfField(v.Field)
		own, usual := "not recorded", "–"
		if v.Value.Known() {
			own = plainNumber(v.Value) + unit
			fig.Panels = append(fig.Panels, valuePanel(v, own))
		}
		if v.UsualLow.Known() {
			usual = plainNumber(v.UsualLow) + " to " + plainNumber(v.UsualHigh) + unit
		}
		t.Rows = append(t.Rows, []string{sentenceCase(valueName(v.Arch, v.Field)), own, usual, v.Usual, plainNumber(v.P5) + " to " + plainNumber(v.P95) + unit, plainNumber(v.P50) + unit, count(v.N)})
	}
	fig.Table = t
	return fig
}

func valuePanel(v review.AuditValue, own string) panel {
	name := sentenceCase(valueName(v.Arch, v.Field))
	said := fmt.Sprintf("%s: %s; house %s to %s, median %s", name, own, plainNumber(v.P5), plainNumber(v.P95), plainNumber(v.P50))
	p := panel{Title: name, Text: "n = " + count(v.N), SVG: template.HTML(chart.Spread{Value: float64(v.Value), Low: float64(v.P5), Mid: float64(v.P50), High: float64(v.P95),
		LowText: plainNumber(v.P5), HighText: plainNumber(v.P95), UsualLow: float64(v.UsualLow), UsualHigh: float64(v.UsualHigh), Text: own, Beyond: v.OutsideUsual() || v.OutsideHouse(), Title: said}.Draw())}
	switch {
	case v.OutsideUsual():
		p.Text += "; outside the usual range"
	case v.OutsideHouse():
		p.Text += "; outside the house’s band"
	}
	return p
}

// plainNumber writes a reading without zeros that say nothing.
func plainNumber(n review.Num) string {
	if !n.Known() {
		return "–"
	}
	for d := range 2 {
		if p := math.Pow(10, float64(d)); math.Abs(math.Round(float64(n)*p)/p-float64(n)) < 1e-9 {
			return number(n, d)
		}
	}
	return number(n, 2)
}

func entryTable(entries []review.AuditEntry) *table {
	t := &table{Caption: "Table: choices, and how common they are in the house", Head: []column{{"Choice", false}, {"This case", false}, {"The same in the house", true}, {"Interval", true}, {"n", true}}}
	for _, e := range entries {
		c := cells(e.Same)
		t.Rows = append(t.Rows, []string{sentenceCase(valueName(e.Arch, e.Field)), listed(e.Code), c[0], c[1], c[3]})
	}
	return t
}

func habitCard(h review.AuditHabit, w words) card {
	c := card{Title: w.habit(h.Habit), Texts: []string{"The records show this in the " + strings.Join(h.Arches, " and the ") + "."}}
	if what := w.habitSentence(h.Habit); what != "" {
		c.Texts = []string{fmt.Sprintf("The %s: %s.", strings.Join(h.Arches, " and the "), what)}
	}
	return c
}

// auditBefore asks before the outcome is shown.
func auditBefore(_ *review.Audit, _ words) *section {
	return &section{ID: "before", Title: "Before you go on", Lead: "Decide first, then open what came after.", Asks: beforeQuestions}
}

// auditExpected sets what was needed beside what like dentures needed.
func auditExpected(a *review.Audit, _ words) *section {
	if len(a.Expected) == 0 {
		return nil
	}
	s := &section{ID: "expected", Title: "What did a case like this need?",
		Notes: []string{"Like dentures are those of other patients with the same arch, ridge class and prior denture, or with less in common where those are too few; the table says which. One denture is one draw: even a usual one needs more or fewer visits by chance."}}
	fig := figure{ID: "expected-beside"}
	t := &table{Caption: "Table: needed and expected", Head: []column{{"Denture", false}, {"Outcome", false}, {"This one", true}, {"Days followed", true}, {"Like dentures", true}, {"Interval", true}, {"n", true}, {"As many or more", true}, {"Alike in", false}, {"Method", false}}}
	for _, x := range a.Expected {
		c, many := cells(x.Like), short(x.AsMany)
		own := count(x.Observed)
		if percent(x.Like.Unit) {
			own, many = map[int64]string{0: "no", 1: "yes"}[x.Observed], "–"
		}
		t.Rows = append(t.Rows, []string{sentenceCase(x.Arch), outcomeOf(x.Outcome).Title, own, count(x.Days), c[0], c[1], c[3], many, likeWord(x.Level), x.Like.Method})
		if !told(x.Like) || percent(x.Like.Unit) {
			continue
		}
		fig.Panels = append(fig.Panels, expectedPanel(x))
		if x.Outcome == review.Adjustments {
			s.Lead = strings.TrimSpace(s.Lead + " " + expectedSentence(x))
		}
	}
	if s.Lead == "" {
		s.Lead = "Too few dentures of other patients are like these to say what to expect."
	}
	if len(fig.Panels) > 0 {
		fig.Caption = "The grey band is the interval of the mean of like dentures, the dashed line the mean; the disc is this denture."
	}
	fig.Table = t
	s.Figures = []figure{fig}
	return s
}

func expectedSentence(x review.AuditExpected) string {
	s := fmt.Sprintf("The %s needed %s in %s days; dentures like it needed %s on average (%s; n = %s).", x.Arch, plural(x.Observed, "adjustment visit"), count(x.Days),
		figureOf(x.Like), interval(x.Like), count(x.Like.N))
	switch {
	case !told(x.AsMany) || x.Observed == 0:
	case x.AsMany.Events == 0:
		s += fmt.Sprintf(" None of the %s followed as long needed as many.", count(x.AsMany.N))
	default:
		s += fmt.Sprintf(" Of the %s followed as long, %s needed as many or more.", count(x.AsMany.N), count(x.AsMany.Events))
	}
	return s
}

func expectedPanel(x review.AuditExpected) panel {
	name := sentenceCase(x.Arch) + ": " + strings.ToLower(outcomeOf(x.Outcome).Title)
	nan := math.NaN()
	return panel{Title: name, Text: "like dentures: " + short(x.Like) + "; n = " + count(x.Like.N),
		SVG: template.HTML(chart.Spread{Value: float64(x.Observed), Low: plain(x.Like, x.Like.Low), Mid: plain(x.Like, x.Like.Value), High: plain(x.Like, x.Like.High),
			LowText: number(x.Like.Low, decimals(x.Like)), HighText: number(x.Like.High, decimals(x.Like)), UsualLow: nan, UsualHigh: nan, Zero: true, Text: count(x.Observed), Title: fmt.Sprintf("%s: %s, like dentures %s", name, count(x.Observed), full(x.Like))}.Draw())}
}
