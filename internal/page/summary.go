package page

import (
	"fmt"
	"html/template"
	"math"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// summaryDoc lays a clinician's page out: strengths first, then own figures beside
// colleagues, habits, things to try, the trend and the cases to open.
func summaryDoc(s *review.Summary, w words) *doc {
	d := &doc{
		Title: "Private summary", Heading: "Your dentures, and what came after", Kicker: "Private summary for " + s.Clinician,
		About: About{s.Version, s.Fingerprint, s.Basis, s.AsOf, s.Invented}, Basis: basisName(s.Basis), Cautions: cautions,
		Opening: append(ownCoverage(s.Coverage), "This page is for you alone. It is meant for learning, and it compares you with nobody by name."),
	}
	if len(s.Lesions) > 0 {
		d.Alert = &alert{lesionLead(s.Lesions), "lesions"}
	}
	for _, build := range []func(*review.Summary, words) *section{strengths, tries, ownRatios, ownFigures, ownHabits, ownTrend, ownCases, ownLesions, dispute} {
		if sec := build(s, w); sec != nil {
			d.Sections = append(d.Sections, *sec)
		}
	}
	return d
}

func ownCoverage(c review.Coverage) []string {
	period := c.FirstPeriod
	if c.LastPeriod != c.FirstPeriod {
		period += " to " + c.LastPeriod
	}
	s := fmt.Sprintf("Your records of %s: %s, %s delivered", period, plural(c.Cases, "case"), plural(c.Delivered, "denture"))
	if c.MedianFollowUp.Known() {
		s += ", followed for a median of " + number(c.MedianFollowUp, 0) + " days"
	}
	return []string{s + "."}
}

func strengths(s *review.Summary, w words) *section {
	if len(s.Strengths) == 0 {
		return nil
	}
	sec := &section{ID: "strengths", Title: "What goes well"}
	for _, x := range s.Strengths {
		title, what := outcomeOf(x.ID).Title, "This happens to your dentures less often"
		if x.Kind == "habit" {
			title, what = w.habit(x.ID), "You do this less often"
		}
		sec.Cards = append(sec.Cards, card{Title: title, Texts: []string{fmt.Sprintf("%s: %s, all colleagues together %s.", what, full(x.Own), full(x.Colleagues))}})
	}
	sec.Lead = plural(int64(len(s.Strengths)), "figure") + " of yours stand clearly below your colleagues’."
	if len(s.Strengths) == 1 {
		sec.Lead = "One figure of yours stands clearly below your colleagues’."
	}
	return sec
}

func tries(s *review.Summary, w words) *section {
	if len(s.Try) == 0 {
		return nil
	}
	sec := &section{ID: "try", Title: "Worth trying", Lead: "One change to consider, within your own control.",
		Notes: []string{"Chosen by rule: a habit that you show more often than colleagues and that goes with trouble in this service, clearly or likely, when like dentures of the same clinician are compared. Whether it causes the trouble is not known."}}
	if len(s.Try) > 1 {
		sec.Lead = fmt.Sprintf("%d changes to consider, each within your own control. One at a time is enough.", len(s.Try))
	}
	for _, x := range s.Try {
		texts := []string{fmt.Sprintf("You: %s. All colleagues together: %s.", full(x.Own), full(x.Colleagues)), w.paired(x.Pair)}
		if what := w.habitSentence(x.Habit); what != "" {
			texts = append([]string{"Dentures " + what + "."}, texts...)
		}
		sec.Cards = append(sec.Cards, card{Title: w.habit(x.Habit), Texts: texts, Cases: x.Cases, CaseHead: "Cases of yours to look at:"})
	}
	return sec
}

// besideFigure draws the reader among colleagues.
func besideFigure(id, title, unit string, own, all review.Estimate, peers []review.Num) figure {
	values := make([]float64, 0, len(peers))
	for _, p := range peers {
		if p.Known() {
			values = append(values, float64(p))
		}
	}
	lead := fmt.Sprintf("You: %s. All colleagues together: %s.", full(own), full(all))
	fig := figure{ID: id, Title: title, Lead: lead, Pair: true}
	if told(own) || told(all) {
		fig.SVG = template.HTML(chart.Strip(chart.Beside{Own: plain(own, own.Value), Low: plain(own, own.Low), High: plain(own, own.High),
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

func ownFigures(s *review.Summary, _ words) *section {
	if len(s.Figures) == 0 {
		return nil
	}
	sec := &section{ID: "figures", Title: "Your figures beside colleagues’", Lead: "Your figure is the disc marked “you”, with its interval; each short grey line is one colleague, unlabelled; the dashed line is all colleagues together.",
		Notes: []string{"Not adjusted for case mix: if your cases are harder, your figures are higher without your doing worse."}}
	t := besideTable("Table: your figures", "Outcome")
	for _, f := range s.Figures {
		title := outcomeOf(f.Outcome).Title
		sec.Figures = append(sec.Figures, besideFigure("own-"+f.Outcome, title, axisName(first(f.Own.Unit, f.Colleagues.Unit)), f.Own, f.Colleagues, f.Peers))
		t.Rows = append(t.Rows, besideRow(title, f.Own, f.Colleagues, len(f.Peers)))
		sec.Definitions = append(sec.Definitions, definition{title, outcomeOf(f.Outcome).Definition})
	}
	sec.Figures = append(sec.Figures, figure{ID: "own-figures", Table: t})
	return sec
}

func ownHabits(s *review.Summary, w words) *section {
	if len(s.Habits) == 0 {
		return nil
	}
	sec := &section{ID: "habits", Title: "Your record-taking habits", Lead: widest(s.Habits, w)}
	var apart, alike []figure
	t := besideTable("Table: your habits", "Habit")
	t.Head = append(t.Head, column{"You, shrunken", true})
	for _, h := range s.Habits {
		title, shrunk := w.habit(h.Habit), "–"
		if h.Shrunk != nil {
			shrunk = figureOf(*h.Shrunk) + " (" + interval(*h.Shrunk) + ")"
		}
		fig := besideFigure("habit-"+h.Habit, title, "% of those in which it can be told", h.Own, h.Colleagues, h.Peers)
		if overlap(h.Own, h.Colleagues) {
			alike = append(alike, fig)
		} else {
			apart = append(apart, fig)
		}
		t.Rows = append(t.Rows, append(besideRow(title, h.Own, h.Colleagues, len(h.Peers)), shrunk))
	}
	apart = append(apart, figure{ID: "own-habits", Table: t})
	sec.Figures = apart
	if sec.Closed = alike; len(alike) > 0 {
		sec.ClosedTitle = plural(int64(len(alike)), "habit") + " in which you and your colleagues cannot be told apart"
	}
	if fig := ownSame(s.Same); fig != nil {
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
		return "Too few cases to compare your habits with colleagues’."
	}
	h := habits[at]
	return fmt.Sprintf("You differ most from colleagues in “%s”: %s against %s.", w.habit(h.Habit), short(h.Own), short(h.Colleagues))
}

func besideTable(caption, head string) *table {
	return &table{Caption: caption, Head: []column{{head, false}, {"You", true}, {"Interval", true}, {"n", true}, {"All colleagues", true}, {"Interval", true}, {"n", true}, {"Colleagues shown", true}}}
}

func besideRow(title string, own, all review.Estimate, peers int) []string {
	a, b := cells(own), cells(all)
	return []string{title, a[0] + unitAfter(own), a[1], a[3], b[0] + unitAfter(all), b[1], b[3], count(int64(peers))}
}

func ownTrend(s *review.Summary, _ words) *section {
	if len(s.Trend) < 2 {
		return nil
	}
	a, b := s.Trend[0], s.Trend[len(s.Trend)-1]
	title := outcomeOf(review.Adjustments).Title + " of your dentures by quarter of records"
	return &section{ID: "trend", Title: "Over time", Lead: fmt.Sprintf("%s %s, %s %s%s.", a.Code, short(a.Estimate), b.Code, short(b.Estimate), unitAfter(b.Estimate)),
		Figures: []figure{{ID: "own-trend", Title: title, SVG: spark(s.Trend, title), Caption: "The line starts at zero; single quarters rest on few dentures and swing by chance.",
			Table: valueTable("Table: the same by quarter", "Quarter", "quarter", s.Trend)}}}
}

func ownCases(s *review.Summary, _ words) *section {
	if len(s.Open) == 0 {
		return nil
	}
	return &section{ID: "open", Title: "Cases of yours worth opening", Lead: plural(int64(len(s.Open)), "case") + " met a rule for a closer look; being listed is not a finding of fault.",
		Figures: []figure{{ID: "open-list", Table: caseTable(s.Open)}}}
}

func ownLesions(s *review.Summary, _ words) *section {
	if len(s.Lesions) == 0 {
		return nil
	}
	return &section{ID: "lesions", Title: "Places to check", Lead: lesionLead(s.Lesions), Notes: []string{cautions[2]}, Figures: lesionFigures(s.Lesions)}
}

// dispute says how a record is put right; the page is worth nothing if its numbers
// cannot be argued with.
func dispute(s *review.Summary, _ words) *section {
	return &section{ID: "dispute", Title: "If a record is wrong", Lead: "Tell the quality lead the case’s number and what it should say; no reason is needed.",
		Notes: append([]string{"The record is put right in the source system, exported again and loaded; the newer export replaces the older one, and this page changes with it. Cases are attributed to whoever took the records. If that was not you, say so the same way.",
			"How these figures were made: your figures are not adjusted for case mix; every figure carries its n and its interval, the range that the data fits about as well. The fewer the dentures, the wider it is."}, notes(s.Coverage, s.Notes)...)}
}

func indexDoc(entries []IndexEntry, about About) *doc {
	t := &table{Caption: "Summaries", Open: true, Head: []column{{"Clinician", false}, {"File", false}, {"Cases", true}, {"Dentures", true}}}
	for _, e := range entries {
		t.Rows = append(t.Rows, []string{e.Code, e.File, count(e.Cases), count(e.Dentures)})
	}
	return &doc{Title: "Index of summaries", Heading: "Whose summary is where", Kicker: "For the quality lead alone", About: about, Basis: basisName(about.Basis), Cautions: cautions,
		Opening:  []string{"Private summaries: " + count(int64(len(entries))) + ". File names do not say whose page it is; this list does. Hand each page to its reader and keep this list apart from them."},
		Sections: []section{{ID: "list", Title: "Summaries", Figures: []figure{{ID: "index", Table: t}}}}}
}
