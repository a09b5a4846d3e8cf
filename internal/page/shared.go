package page

import (
	"cmp"
	"io"
	"slices"
	"strings"

	"afterfit/internal/review"
)

// Shared writes the share form of a review, for outside the building. The same findings
// give the same bytes.
func Shared(w io.Writer, f *review.Shared, opt Options) error {
	return render(w, sharedDoc(f, opt.words()), opt.Static, opt.words())
}

// sharedDoc lays the share form out. It knows nothing but the share form.
func sharedDoc(f *review.Shared, w words) *doc {
	d := &doc{
		Title: w.Say("share.title"), Heading: w.Say("pack.heading"), Kicker: w.Say("share.kicker"),
		About: About{Version: f.Version, Basis: f.Basis, AsOf: w.Period(f.AsOf), Invented: f.Invented}, Basis: w.basisName(f.Basis),
		Opening: w.sharedCoverage(f), Cautions: append([]string{w.Say("share.caution")}, w.cautions()...),
	}
	for i, v := range f.Overall {
		if i < 4 && v.Figure != nil {
			t := w.tile(review.Headline{Outcome: v.Outcome, Overall: sharedEstimate(v.Figure)})
			t.N = w.Say("share.tile_n", "n", v.Figure.N)
			d.Tiles = append(d.Tiles, t)
		}
	}
	d.FindingsTitle = w.Say("pack.findings")
	for _, p := range surest(f.Findings, 5) {
		d.Findings = append(d.Findings, w.sharedFinding(p))
	}
	d.Sections = append(d.Sections, *sharedRules(f, w))
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
		return review.Estimate{TooFew: "hidden"}
	}
	return review.Estimate{Value: s.Value, Low: s.Low, High: s.High, Level: s.Level, N: s.N, Unit: s.Unit, Method: s.Method, Query: s.Query}
}

func (w words) sharedCoverage(f *review.Shared) []string {
	c := f.Coverage
	s := w.Say("share.coverage",
		"years", w.periods(c.FirstYear, c.LastYear), "patients", c.Patients, "delivered", c.Delivered, "sites", c.Sites, "clinicians", c.Clinicians)
	attended, interval := "none", ""
	if a := c.Attended; a != nil {
		attended, interval = w.figureOf(sharedEstimate(a)), w.interval(sharedEstimate(a))
	}
	out := []string{w.Say("share.opening"), s,
		w.Say("share.followed", "days", c.MedianFollowUp, "attended", attended, "interval", interval)}
	if c.SorePlaces != nil {
		out = append(out, w.Say("share.sore", "n", *c.SorePlaces))
	}
	return out
}

// sharedRules says what is hidden here, and why.
func sharedRules(f *review.Shared, w words) *section {
	hidden := 0
	for _, h := range f.Hidden {
		hidden += h.Figures
	}
	s := &section{ID: "share", Title: w.Say("share.rules_title"),
		Lead: w.Say("share.rules_lead", "figures", hidden, "tables", len(f.Hidden), "things", len(f.LeftOut)),
		Notes: []string{
			w.Say("share.rule_small"),
			w.Say("share.rule_company"),
			w.Say("share.rule_rounded"),
			w.Say("share.rule_codes"),
			w.Say("share.rule_seldom"),
		}}
	t := &table{Caption: w.caption(w.Say("share.left_out")), Head: w.columns("what", "why")}
	for _, l := range f.LeftOut {
		t.Rows = append(t.Rows, []string{sentenceCase(w.leftOutName(l.What)), sentenceCase(w.found(l.Why))})
	}
	h := &table{Caption: w.caption(w.Say("share.hidden")), Head: w.columns("outcome", "by", "#hidden", "#of")}
	for _, x := range f.Hidden {
		h.Rows = append(h.Rows, []string{w.outcomeTitle(x.Outcome), w.sharedDimension(x.Dimension), w.count(int64(x.Figures)), w.count(int64(x.Of))})
	}
	s.Figures = append(s.Figures, figure{ID: "left-out", Table: t})
	if len(h.Rows) > 0 {
		s.Figures = append(s.Figures, figure{ID: "hidden", Table: h})
	}
	return s
}

// leftOutName words what the share form names as "table OUTCOME DIMENSION".
func (w words) leftOutName(what string) string {
	rest, ok := strings.CutPrefix(what, "table ")
	if !ok {
		return w.found(what)
	}
	outcome, dimension, by := strings.Cut(rest, " ")
	if !by {
		return w.outcomeTitle(outcome)
	}
	return w.by(w.outcomeTitle(outcome), w.sharedDimension(dimension))
}

func (w words) sharedDimension(id string) string {
	if arch, ok := strings.CutPrefix(id, "zone:"); ok {
		return w.Say("share.place", "arch", w.code(arch))
	}
	return w.or("dimension.*", id, w.exposureNoun(id))
}

// sharedFigure shows one dimension: the first outcome as picture, all as table. It is
// nil where the share form has nothing of it.
func (w words) sharedFigure(f *review.Shared, dimension string) *figure {
	t := &table{Caption: w.caption(w.by(w.Say("table.every_outcome"), w.sharedDimension(dimension))),
		Head: w.columns("outcome", "="+sentenceCase(w.sharedDimension(dimension)), "#figure", "#interval", "unit", "#n_about", "method")}
	var first *review.SharedGroup
	for i, g := range f.Groups {
		if g.Dimension != dimension {
			continue
		}
		if first == nil {
			first = &f.Groups[i]
		}
		for _, v := range g.Values {
			row := []string{w.outcomeTitle(g.Outcome), w.sharedLabel(dimension, v.Code), w.Say("share.hidden_cell"), "", "", "", ""}
			if e := sharedEstimate(v.Figure); v.Figure != nil {
				row = append(row[:2], w.figureOf(e), w.limits(e), w.axisName(e.Unit), w.count(e.N), w.found(e.Method))
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
		code = w.freshCode(dimension, code)
		if strings.HasPrefix(dimension, "zone:") {
			code = w.sharedLabel(dimension, code)
		}
		values, n = append(values, review.GroupValue{Code: code, Estimate: sharedEstimate(v.Figure)}), n+v.Figure.N
	}
	title := w.by(w.outcomeTitle(first.Outcome), w.sharedDimension(dimension))
	fig := w.rowsFigure("by-"+strings.ReplaceAll(dimension, ":", "-"), title, w.spread(first.Outcome, dimension, values), dimension, values, nil, t)
	fig.Caption = w.Say("share.caption", "n", n, "level", w.level(values[0].Estimate))
	if hidden > 0 {
		fig.Caption = followed(fig.Caption, w.Say("share.groups_hidden", "n", hidden))
	}
	return fig
}

func (w words) sharedLabel(dimension, code string) string {
	if strings.HasPrefix(dimension, "zone:") {
		return sentenceCase(w.zone(code))
	}
	return w.label(dimension, w.freshCode(dimension, code))
}

// freshCode is a site's fresh code, "site 3", in the page's language; other codes stay.
func (w words) freshCode(dimension, code string) string {
	if n, fresh := strings.CutPrefix(code, "site "); fresh && dimension == "site" {
		return w.Say("unit_named.site", "code", n)
	}
	return code
}

func (w words) sharedSection(f *review.Shared, s section, ids ...string) *section {
	for _, id := range ids {
		if fig := w.sharedFigure(f, id); fig != nil {
			s.Figures = append(s.Figures, *fig)
		}
	}
	if len(s.Figures) == 0 {
		return nil
	}
	return &s
}

func sharedStanding(f *review.Shared, w words) *section {
	return w.sharedSection(f, section{ID: "standing", Title: w.Say("share.standing"), Notes: []string{w.Say("standing.not_adjusted")}}, "year", "arch", "site", "ridge_class")
}

func sharedBands(f *review.Shared, w words) *section {
	return w.sharedSection(f, section{ID: "measurements", Title: w.Say("measured.title"), Notes: []string{w.Say("measured.bands")}}, "freeway", "clearance", "seating", "discomfort", "display")
}

func sharedZones(f *review.Shared, w words) *section {
	return w.sharedSection(f, section{ID: "zones", Title: w.Say("zones.title"), Notes: []string{w.Say("share.zones")}}, "zone:upper", "zone:lower")
}

// sharedFinding tells a finding by its ratio, in a sentence that speaks of going with.
func (w words) sharedFinding(p review.SharedFinding) string {
	e := sharedEstimate(&p.Ratio)
	return w.Say("share.finding", "habit", w.habit(p.Habit), "counted", w.pairNoun(p.Outcome),
		"times", w.ratio(e.Value), "interval", w.Say("figure.interval", "level", w.level(e), "range", w.span(w.ratio(e.Low), w.ratio(e.High))), "n", e.N, "grade", w.gradeName(p.Grade))
}

// ratio writes a ratio to hundredths.
func (w words) ratio(n review.Num) string { return w.number(n, 2) }

func sharedFindings(f *review.Shared, w words) *section {
	if len(f.Findings) == 0 {
		return nil
	}
	t := &table{Caption: w.caption(w.Say("share.findings_table")), Open: true,
		Head: w.columns("habit", "outcome", "grade", "#ratio", "#interval", "#n_at_least")}
	for _, grade := range gradeOrder {
		for _, p := range f.Findings {
			if p.Grade == grade {
				t.Rows = append(t.Rows, []string{w.habit(p.Habit), sentenceCase(w.pairNoun(p.Outcome)), w.gradeTitle(p.Grade), w.ratio(p.Ratio.Value), w.span(w.ratio(p.Ratio.Low), w.ratio(p.Ratio.High)), w.count(p.Ratio.N)})
			}
		}
	}
	s := &section{ID: "habits", Title: w.Say("pairs.title"),
		Lead:    w.Say("share.findings", "n", len(f.Findings)),
		Notes:   []string{w.Say("share.findings_note")},
		Figures: []figure{{ID: "findings", Table: t}}}
	for _, g := range gradeOrder[:4] {
		s.Definitions = append(s.Definitions, definition{w.gradeTitle(g), sentenceCase(w.gradeMeaning(g))})
	}
	return s
}

func sharedMethod(f *review.Shared, w words) *section {
	s := &section{ID: "method", Title: w.Say("method.title"),
		Lead: w.methodLead()}
	seen := map[string]bool{}
	for _, v := range f.Overall {
		seen[v.Outcome] = true
	}
	for _, p := range f.Findings {
		seen[p.Outcome] = true
	}
	s.Definitions = w.wordsDefined(seen)
	return s
}
