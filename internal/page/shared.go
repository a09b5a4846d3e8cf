package page

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"afterfit/internal/review"
)

// Shared writes the share form of a review, for outside the building. The same findings
// give the same bytes.
func Shared(w io.Writer, f *review.Shared, opt Options) error {
	return render(w, sharedDoc(f, opt.words()), opt.Static)
}

const hiddenText = "Hidden: 1 to 10 people, or hidden so that such a figure cannot be worked out"

// sharedDoc lays the share form out. It knows nothing but the share form.
func sharedDoc(f *review.Shared, w words) *doc {
	d := &doc{
		Title: "Share form", Heading: "Records, and what came after", Kicker: "Share form of a quality review, for outside the building",
		About: About{Version: f.Version, Basis: f.Basis, AsOf: f.AsOf, Invented: f.Invented}, Basis: basisName(f.Basis),
		Opening: sharedCoverage(f), Cautions: append([]string{"This page was made to be shared. Whoever shares it looks it through first; local rules on small numbers come before the rule used here."}, cautions...),
	}
	for i, v := range f.Overall {
		if i < 4 && v.Figure != nil {
			t := tileOf(review.Headline{Outcome: v.Outcome, Overall: sharedEstimate(v.Figure)})
			t.N = "n about " + count(v.Figure.N) + " dentures, not adjusted"
			d.Tiles = append(d.Tiles, t)
		}
	}
	d.FindingsTitle = "Which habits go with trouble most surely"
	for _, p := range surest(f.Findings, 5) {
		d.Findings = append(d.Findings, w.sharedFinding(p))
	}
	d.Sections = append(d.Sections, *sharedRules(f))
	for _, build := range []func(*review.Shared, words) *section{sharedStanding, sharedFindings, sharedBands, sharedZones, sharedMethod} {
		if s := build(f, w); s != nil {
			d.Sections = append(d.Sections, *s)
		}
	}
	return d
}

// surest are the clear findings, those whose interval stays furthest from no difference
// first.
func surest(all []review.SharedFinding, most int) []review.SharedFinding {
	var out []review.SharedFinding
	for _, p := range all {
		if p.Grade == review.Clear {
			out = append(out, p)
		}
	}
	away := func(p review.SharedFinding) review.Num { return max(p.Ratio.Low, 1/p.Ratio.High) }
	slices.SortStableFunc(out, func(a, b review.SharedFinding) int { return cmp.Compare(away(b), away(a)) })
	return out[:min(most, len(out))]
}

// sharedEstimate turns a figure of the share form into one that pages show.
func sharedEstimate(s *review.SharedFigure) review.Estimate {
	if s == nil {
		return review.Estimate{TooFew: hiddenText + "."}
	}
	return review.Estimate{Value: s.Value, Low: s.Low, High: s.High, Level: s.Level, N: s.N, Unit: s.Unit, Method: s.Method, Query: s.Query}
}

func sharedCoverage(f *review.Shared) []string {
	c := f.Coverage
	years := "Records of " + c.FirstYear
	if c.LastYear != c.FirstYear {
		years += " to " + c.LastYear
	}
	s := fmt.Sprintf("%s: about %s and %s delivered, %s, %s. Counts are rounded to tens.", years, plural(c.Patients, "patient"), plural(c.Delivered, "denture"), plural(c.Sites, "site"), plural(c.Clinicians, "clinician"))
	follow := fmt.Sprintf("Followed for a median of about %s days", count(c.MedianFollowUp))
	if a := c.Attended; a != nil {
		follow += fmt.Sprintf("; %s with a planned visit in the first 90 days (%s)", figureOf(sharedEstimate(a)), interval(sharedEstimate(a)))
	}
	out := []string{"This is the share form: figures of 1 to 10 people are hidden, and what is shown is rounded.", s, follow + "."}
	if c.SorePlaces != nil {
		out = append(out, fmt.Sprintf("Places sore at visits 14 or more days apart, with no review recorded: about %s. The list stays in the house.", count(*c.SorePlaces)))
	}
	return out
}

// sharedRules says what is hidden here, and why.
func sharedRules(f *review.Shared) *section {
	hidden := 0
	for _, h := range f.Hidden {
		hidden += h.Figures
	}
	s := &section{ID: "share", Title: "What is hidden here, and why?",
		Lead: fmt.Sprintf("%s in %s are hidden, and %s left out whole.", plural(int64(hidden), "figure"), plural(int64(len(f.Hidden)), "table"), plural(int64(len(f.LeftOut)), "thing")),
		Notes: []string{
			"A figure behind which stand 1 to 10 people is hidden, as the cell size suppression policy of the Centers for Medicare & Medicaid Services asks (version of 26 January 2024); none may be shown. Local rules come first.",
			"With it goes at least one larger figure, so that it does not follow from a total. Which of the two a hidden figure is, the page does not say.",
			"Counts are rounded to tens. Figures move in steps of about ten dentures or events, and limits are worked out again from the rounded figure and are a little wide.",
			"Sites have fresh codes, which mean nothing outside this page.",
			"Two such pages of one service, taken from each other, may tell more than one: share them seldom.",
		}}
	t := &table{Caption: "Table: what is left out", Head: []column{{"What", false}, {"Why", false}}}
	for _, l := range f.LeftOut {
		t.Rows = append(t.Rows, []string{sentenceCase(leftOutName(l.What)), sentenceCase(l.Why)})
	}
	h := &table{Caption: "Table: how many figures are hidden", Head: []column{{"Outcome", false}, {"By", false}, {"Hidden", true}, {"Of", true}}}
	for _, x := range f.Hidden {
		h.Rows = append(h.Rows, []string{outcomeOf(x.Outcome).Title, sharedDimension(x.Dimension), count(int64(x.Figures)), count(int64(x.Of))})
	}
	s.Figures = append(s.Figures, figure{ID: "left-out", Table: t})
	if len(h.Rows) > 0 {
		s.Figures = append(s.Figures, figure{ID: "hidden", Table: h})
	}
	return s
}

// leftOutName words what the share form names as "table OUTCOME DIMENSION".
func leftOutName(what string) string {
	rest, ok := strings.CutPrefix(what, "table ")
	if !ok {
		return what
	}
	outcome, dimension, by := strings.Cut(rest, " ")
	if !by {
		return outcomeOf(outcome).Title
	}
	return outcomeOf(outcome).Title + " by " + sharedDimension(dimension)
}

func sharedDimension(id string) string {
	if arch, ok := strings.CutPrefix(id, "zone:"); ok {
		return "place, " + arch
	}
	if name, ok := dimensions[id]; ok {
		return name
	}
	if x, ok := exposures[id]; ok {
		return x.Noun
	}
	return spaced(id)
}

// sharedFigure shows one dimension: the first outcome as picture, all as table. It is
// nil where the share form has nothing of it.
func sharedFigure(f *review.Shared, dimension string) *figure {
	t := &table{Caption: "Table: every outcome by " + sharedDimension(dimension),
		Head: []column{{"Outcome", false}, {sentenceCase(sharedDimension(dimension)), false}, {"Figure", true}, {"Interval", true}, {"Unit", false}, {"n, about", true}, {"Method", false}}}
	var first *review.SharedGroup
	for i, g := range f.Groups {
		if g.Dimension != dimension {
			continue
		}
		if first == nil {
			first = &f.Groups[i]
		}
		for _, v := range g.Values {
			row := []string{outcomeOf(g.Outcome).Title, sharedLabel(dimension, v.Code), "hidden", "", "", "", ""}
			if e := sharedEstimate(v.Figure); v.Figure != nil {
				row = append(row[:2], figureOf(e), limits(e), axisName(e.Unit), count(e.N), e.Method)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	if first == nil {
		return nil
	}
	values, n, hidden := []review.GroupValue{}, int64(0), 0
	for _, v := range first.Values {
		if v.Figure == nil {
			hidden++
			continue
		}
		code := v.Code
		if strings.HasPrefix(dimension, "zone:") {
			code = sharedLabel(dimension, code)
		}
		values, n = append(values, review.GroupValue{Code: code, Estimate: sharedEstimate(v.Figure)}), n+v.Figure.N
	}
	title := outcomeOf(first.Outcome).Title + " by " + sharedDimension(dimension)
	fig := rowsFigure("by-"+strings.ReplaceAll(dimension, ":", "-"), title, spread(first.Outcome, dimension, values), dimension, values, nil, t)
	fig.Caption = fmt.Sprintf("n = about %s dentures, rounded. Bars are %sintervals; open rings: not recorded. Not adjusted for case mix.", count(n), level(values[0].Estimate))
	if hidden > 0 {
		fig.Caption += " " + plural(int64(hidden), "group") + " hidden."
	}
	return fig
}

func sharedLabel(dimension, code string) string {
	if strings.HasPrefix(dimension, "zone:") {
		return sentenceCase(zoneOf(code))
	}
	return label(dimension, code)
}

func sharedSection(f *review.Shared, s section, ids ...string) *section {
	for _, id := range ids {
		if fig := sharedFigure(f, id); fig != nil {
			s.Figures = append(s.Figures, *fig)
		}
	}
	if len(s.Figures) == 0 {
		return nil
	}
	return &s
}

func sharedStanding(f *review.Shared, _ words) *section {
	return sharedSection(f, section{ID: "standing", Title: "Where does the service stand?", Notes: []string{"Figures are not adjusted for case mix: a group with harder cases shows more trouble without doing worse."}}, "year", "arch", "site", "ridge_class")
}

func sharedBands(f *review.Shared, _ words) *section {
	return sharedSection(f, section{ID: "measurements", Title: "How does trouble grow with the measurement?", Notes: []string{"Not adjusted for case mix. Not recorded is a band of its own and comes last."}}, "freeway", "clearance", "seating", "discomfort", "display")
}

func sharedZones(f *review.Shared, _ words) *section {
	return sharedSection(f, section{ID: "zones", Title: "Where does it hurt?", Notes: []string{"Sore spots within 30 days of delivery, left and right together. Spots and dentures are rounded to tens."}}, "zone:upper", "zone:lower")
}

// sharedFinding tells a finding by its ratio, in a sentence that speaks of going with.
func (w words) sharedFinding(p review.SharedFinding) string {
	e := sharedEstimate(&p.Ratio)
	return fmt.Sprintf("%s: %s %s times as often as in like dentures without it (%s; n at least %s dentures; %s).",
		w.habit(p.Habit), pairNoun(p.Outcome), ratio(e.Value), level(e)+"interval "+ratio(e.Low)+" to "+ratio(e.High), count(e.N), lowerFirst(gradeOf(p.Grade).Name))
}

// ratio writes a ratio to hundredths.
func ratio(n review.Num) string { return number(n, 2) }

func sharedFindings(f *review.Shared, w words) *section {
	if len(f.Findings) == 0 {
		return nil
	}
	t := &table{Caption: "Table: every finding with more than ten people on both sides", Open: true,
		Head: []column{{"Habit", false}, {"Outcome", false}, {"Grade", false}, {"Ratio", true}, {"Interval", true}, {"n, at least", true}}}
	for _, grade := range gradeOrder {
		for _, p := range f.Findings {
			if p.Grade == grade {
				t.Rows = append(t.Rows, []string{w.habit(p.Habit), sentenceCase(pairNoun(p.Outcome)), gradeOf(p.Grade).Name, ratio(p.Ratio.Value), ratio(p.Ratio.Low) + " to " + ratio(p.Ratio.High), count(p.Ratio.N)})
			}
		}
	}
	s := &section{ID: "habits", Title: "Which habits go with trouble?",
		Lead:    fmt.Sprintf("%d pairs of a habit and an outcome have more than ten people on both sides.", len(f.Findings)),
		Notes:   []string{"The ratio is within clinicians: dentures with the habit beside those without it of the same clinician, the same arch and like expected trouble. It is association, never cause."},
		Figures: []figure{{ID: "findings", Table: t}}}
	for _, g := range gradeOrder[:4] {
		s.Definitions = append(s.Definitions, definition{gradeOf(g).Name, sentenceCase(gradeOf(g).Meaning)})
	}
	return s
}

func sharedMethod(f *review.Shared, _ words) *section {
	s := &section{ID: "method", Title: "How was this worked out?",
		Lead: methodLead}
	seen := map[string]bool{}
	for _, v := range f.Overall {
		seen[v.Outcome] = true
	}
	for _, p := range f.Findings {
		seen[p.Outcome] = true
	}
	s.Definitions = wordsDefined(seen)
	return s
}
