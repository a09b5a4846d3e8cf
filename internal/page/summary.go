package page

import (
	"html/template"
	"math"

	"afterfit/internal/chart"
	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// summaryDoc lays a clinician's page out: strengths first, then own figures beside
// colleagues, habits, things to try, the trend and the cases to open.
func summaryDoc(s *review.Summary, w words) *doc {
	d := &doc{
		Title: w.Say("summary.title"), Heading: w.Say("summary.heading"), Kicker: w.Say("summary.kicker", "clinician", s.Clinician),
		About: About{s.Version, s.Fingerprint, s.Basis, w.Period(s.AsOf), s.Invented}, Basis: w.basisName(s.Basis), Cautions: w.cautions(),
		Opening: append(w.ownCoverage(s.Coverage), w.Say("summary.alone")),
	}
	if len(s.Lesions) > 0 {
		d.Alert = &alert{w.lesionLead(s.Lesions), "lesions"}
	}
	for _, build := range []func(*review.Summary, words) *section{strengths, tries, ownRatios, ownFigures, ownHabits, ownTrend, ownCases, ownLesions, dispute} {
		if sec := build(s, w); sec != nil {
			d.Sections = append(d.Sections, *sec)
		}
	}
	return d
}

func (w words) ownCoverage(c review.Coverage) []string {
	return []string{w.Say("summary.coverage",
		"period", w.periods(c.FirstPeriod, c.LastPeriod), "cases", c.Cases, "delivered", c.Delivered, "median", w.numberOr(c.MedianFollowUp))}
}

func strengths(s *review.Summary, w words) *section {
	if len(s.Strengths) == 0 {
		return nil
	}
	sec := &section{ID: "strengths", Title: w.Say("strengths.title")}
	for _, x := range s.Strengths {
		title := w.outcomeTitle(x.ID)
		if x.Kind == "habit" {
			title = w.habit(x.ID)
		}
		sec.Cards = append(sec.Cards, card{Title: title, Texts: []string{w.Say("strengths.text", "kind", x.Kind, "own", w.full(x.Own), "colleagues", w.full(x.Colleagues))}})
	}
	sec.Lead = w.Say("strengths.lead", "n", len(s.Strengths))
	return sec
}

func tries(s *review.Summary, w words) *section {
	if len(s.Try) == 0 {
		return nil
	}
	sec := &section{ID: "try", Title: w.Say("try.title"), Lead: w.Say("try.lead", "n", len(s.Try)),
		Notes: []string{w.Say("try.note")}}
	for _, x := range s.Try {
		texts := []string{w.beside(x.Own, x.Colleagues), w.paired(x.Pair)}
		if what := w.habitSentence(x.Habit); what != "" {
			texts = append([]string{w.sourced(w.who(x.Habit))}, texts...)
		}
		sec.Cards = append(sec.Cards, card{Title: w.habit(x.Habit), Texts: texts, Cases: x.Cases, CaseHead: w.Say("try.cases")})
	}
	return sec
}

// beside sets the reader's figure beside colleagues'.
func (w words) beside(own, all review.Estimate) string {
	return w.Say("summary.beside", "own", w.full(own), "colleagues", w.full(all))
}

// besideFigure draws the reader among colleagues.
func (w words) besideFigure(id, title, unit string, own, all review.Estimate, peers []review.Num) figure {
	values := make([]float64, 0, len(peers))
	for _, p := range peers {
		if p.Known() {
			values = append(values, float64(p))
		}
	}
	lead := w.beside(own, all)
	fig := figure{ID: id, Title: title, Lead: lead, Pair: true}
	if told(own) || told(all) {
		fig.SVG = template.HTML(chart.Strip(w.Catalogue, chart.Beside{Own: plain(own, own.Value), Low: plain(own, own.Low), High: plain(own, own.High),
			Colleagues: plain(all, all.Value), Peers: values, Unit: unit, Title: title + ". " + lead}))
	}
	return fig
}

func first(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

func ownFigures(s *review.Summary, w words) *section {
	if len(s.Figures) == 0 {
		return nil
	}
	sec := &section{ID: "figures", Title: w.Say("own.title"), Lead: w.Say("own.lead"),
		Notes: []string{w.Say("own.note")}}
	t := w.besideTable(w.Say("own.table"), "outcome")
	for _, f := range s.Figures {
		title := w.outcomeTitle(f.Outcome)
		sec.Figures = append(sec.Figures, w.besideFigure("own-"+f.Outcome, title, w.axisName(first(f.Own.Unit, f.Colleagues.Unit)), f.Own, f.Colleagues, f.Peers))
		t.Rows = append(t.Rows, w.besideRow(title, f.Own, f.Colleagues, len(f.Peers)))
		sec.Definitions = append(sec.Definitions, definition{title, w.outcomeDefinition(f.Outcome)})
	}
	sec.Figures = append(sec.Figures, figure{ID: "own-figures", Table: t})
	return sec
}

func ownHabits(s *review.Summary, w words) *section {
	if len(s.Habits) == 0 {
		return nil
	}
	sec := &section{ID: "habits", Title: w.Say("own_habits.title"), Lead: widest(s.Habits, w)}
	var apart, alike []figure
	t := w.besideTable(w.Say("own_habits.table"), "habit")
	t.Head = append(t.Head, w.columns("#you_shrunken")...)
	for _, h := range s.Habits {
		title, shrunk := w.habit(h.Habit), wording.None
		if h.Shrunk != nil {
			shrunk = w.Say("own_habits.shrunk", "figure", w.figureOf(*h.Shrunk), "interval", w.interval(*h.Shrunk))
		}
		fig := w.besideFigure("habit-"+h.Habit, title, w.Say("habits.axis"), h.Own, h.Colleagues, h.Peers)
		if overlap(h.Own, h.Colleagues) {
			alike = append(alike, fig)
		} else {
			apart = append(apart, fig)
		}
		t.Rows = append(t.Rows, append(w.besideRow(title, h.Own, h.Colleagues, len(h.Peers)), shrunk))
	}
	apart = append(apart, figure{ID: "own-habits", Table: t})
	sec.Figures = apart
	if sec.Closed = alike; len(alike) > 0 {
		sec.ClosedTitle = w.Say("own_habits.alike", "n", len(alike))
	}
	if fig := w.ownSame(s.Same); fig != nil {
		sec.Figures = append(sec.Figures, *fig)
	}
	return sec
}

// overlap reports whether two intervals share a value, or one has no figure: then no
// difference can be told.
func overlap(a, b review.Estimate) bool {
	return !told(a) || !told(b) || a.Low <= b.High && b.Low <= a.High
}

// widest tells the habit in which the reader differs most from colleagues.
func widest(habits []review.OwnHabit, w words) string {
	at, most := -1, -1.0
	for i, h := range habits {
		if !told(h.Own) || !told(h.Colleagues) {
			continue
		}
		if d := math.Abs(float64(h.Own.Value - h.Colleagues.Value)); d > most {
			at, most = i, d
		}
	}
	if at < 0 {
		return w.Say("own_habits.too_few")
	}
	h := habits[at]
	return w.Say("own_habits.lead", "habit", w.habit(h.Habit), "own", w.short(h.Own), "colleagues", w.short(h.Colleagues))
}

func (w words) besideTable(caption, head string) *table {
	return &table{Caption: w.caption(caption), Head: append(w.columns(head), w.columns("#you", "#interval", "#n", "#all_colleagues", "#interval", "#n", "#colleagues_shown")...)}
}

func (w words) besideRow(title string, own, all review.Estimate, peers int) []string {
	a, b := w.cells(own), w.cells(all)
	return []string{title, a[0] + w.unitAfter(own), a[1], a[3], b[0] + w.unitAfter(all), b[1], b[3], w.count(int64(peers))}
}

func ownTrend(s *review.Summary, w words) *section {
	if len(s.Trend) < 2 {
		return nil
	}
	a, b := s.Trend[0], s.Trend[len(s.Trend)-1]
	title := w.Say("own_trend.figure", "outcome", w.outcomeTitle(review.Adjustments))
	return &section{ID: "trend", Title: w.Say("own_trend.title"), Lead: w.Say("own_trend.lead", "first", w.Period(a.Code), "first_figure", w.short(a.Estimate), "last", w.Period(b.Code), "last_figure", w.short(b.Estimate), "unit", w.unitAfter(b.Estimate)),
		Figures: []figure{{ID: "own-trend", Title: title, SVG: w.spark(s.Trend, title), Caption: w.Say("own_trend.caption"),
			Table: w.valueTable(w.caption(w.Say("own_trend.table")), w.Say("word.quarter"), "quarter", s.Trend)}}}
}

func ownCases(s *review.Summary, w words) *section {
	if len(s.Open) == 0 {
		return nil
	}
	return &section{ID: "open", Title: w.Say("own_cases.title"), Lead: w.Say("own_cases.lead", "cases", len(s.Open)),
		Figures: []figure{{ID: "open-list", Table: w.caseTable(s.Open)}}}
}

func ownLesions(s *review.Summary, w words) *section {
	if len(s.Lesions) == 0 {
		return nil
	}
	return &section{ID: "lesions", Title: w.Say("lesion.places"), Lead: w.lesionLead(s.Lesions), Notes: []string{w.lesionCaution()}, Figures: w.lesionFigures(s.Lesions)}
}

// dispute says how a record is put right; the page is worth nothing if its numbers
// cannot be argued with.
func dispute(s *review.Summary, w words) *section {
	return &section{ID: "dispute", Title: w.Say("dispute.title"), Lead: w.Say("dispute.lead"),
		Notes: append([]string{w.Say("dispute.right"),
			w.Say("dispute.how")}, w.notes(s.Coverage, s.Notes)...)}
}

func indexDoc(entries []IndexEntry, about About, w words) *doc {
	about.AsOf = w.Period(about.AsOf)
	t := &table{Caption: w.Say("index.summaries"), Open: true, Head: w.columns("clinician", "file", "#cases", "#dentures")}
	for _, e := range entries {
		t.Rows = append(t.Rows, []string{e.Code, e.File, w.count(e.Cases), w.count(e.Dentures)})
	}
	return &doc{Title: w.Say("index.title"), Heading: w.Say("index.heading"), Kicker: w.Say("index.kicker"), About: about, Basis: w.basisName(about.Basis), Cautions: w.cautions(),
		Opening:  []string{w.Say("index.opening", "n", len(entries))},
		Sections: []section{{ID: "list", Title: w.Say("index.summaries"), Figures: []figure{{ID: "index", Table: t}}}}}
}
