package page

import (
	"html/template"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// groupFigure shows one dimension: the first outcome as picture, all as table.
func (w words) groupFigure(f *review.Findings, dimension string) *figure {
	var groups []review.Group
	for _, g := range f.Groups {
		if g.Dimension == dimension && len(g.Values) > 0 {
			groups = append(groups, g)
		}
	}
	if len(groups) == 0 {
		return nil
	}
	name, g := w.dimension(dimension), groups[0]
	t := w.estimateTable(w.caption(w.by(w.Say("table.every_outcome"), name)), sentenceCase(name))
	for _, g := range groups {
		w.addRows(t, w.outcomeTitle(g.Outcome), dimension, g.Values)
	}
	t.Screen = len(t.Rows) > mostPrinted
	title := w.by(w.outcomeTitle(g.Outcome), name)
	return w.rowsFigure("by-"+dimension, title, w.spread(g.Outcome, dimension, g.Values), dimension, g.Values, w.overall(f, g.Outcome), t)
}

// overall is the service's own figure for an outcome, as a line to hold groups against.
func (w words) overall(f *review.Findings, id string) *chart.Rule {
	for _, h := range f.Headlines {
		if h.Outcome == id && told(h.Overall) {
			return &chart.Rule{At: float64(h.Overall.Value), Name: w.Say("chart.all", "figure", w.figureOf(h.Overall))}
		}
	}
	return nil
}

// rowsFigure draws values of a dimension or band as intervals.
func (w words) rowsFigure(id, title, lead, dimension string, values []review.GroupValue, rule *chart.Rule, t *table) *figure {
	rows, axis, n := make([]chart.Row, len(values)), "", int64(0)
	for i, v := range values {
		rows[i] = w.row(w.label(dimension, v.Code), v.Estimate)
		if notRecorded(v.Code) {
			rows[i].Kind = chart.Rest
		}
		n += v.Estimate.N
		axis = w.axisName(v.Estimate.Unit)
	}
	rows, drawn := w.fitRows(rows)
	fig := &figure{ID: id, Title: title, Lead: lead}
	if slices.ContainsFunc(values, func(v review.GroupValue) bool { return told(v.Estimate) }) { // else the picture would be empty
		fig = w.drawnFigure(id, title, lead, func() (chart.Drawn, error) { return chart.Rows(rows, axis, rule, w.titled(title, lead)) })
	}
	fig.Caption = followed(w.Say("caption.n", "n", n), drawn, w.barsAre(fig, values[0].Estimate), w.Say("caption.not_adjusted"))
	fig.Table = t
	return fig
}

// barsAre explains the marks of a picture, where there is one.
func (w words) barsAre(fig *figure, e review.Estimate) string {
	if fig.Options == "" {
		return ""
	}
	return w.Say("caption.bars", "level", w.level(e))
}

func (w words) axisName(unit string) string {
	if percent(unit) {
		return w.Say("figure.percent_of_dentures")
	}
	return w.found(unit)
}

// estimateTable is a table of figures by group.
func (w words) estimateTable(caption, group string) *table {
	return &table{Caption: caption, Head: w.columns("outcome", "="+group, "#figure", "#interval", "unit", "#n", "#events", "method")}
}

func (w words) addRows(t *table, outcome, dimension string, values []review.GroupValue) {
	for _, v := range values {
		t.Rows = append(t.Rows, append([]string{outcome, w.label(dimension, v.Code)}, w.cells(v.Estimate)...))
	}
}

// cells are figure, interval, unit, n, events and method.
func (w words) cells(e review.Estimate) []string {
	if !told(e) {
		return []string{w.tooFew(e), "", w.axisName(e.Unit), w.count(e.N), w.count(e.Events), w.found(e.Method)}
	}
	return []string{w.figureOf(e), marked(w.limits(e), e), w.axisName(e.Unit), w.count(e.N), w.count(e.Events), w.found(e.Method)}
}

func (w words) valueTable(caption, group, dimension string, values []review.GroupValue) *table {
	t := &table{Caption: caption, Head: w.columns("="+group, "#figure", "#interval", "unit", "#n", "#events", "method")}
	for _, v := range values {
		t.Rows = append(t.Rows, append([]string{w.label(dimension, v.Code)}, w.cells(v.Estimate)...))
	}
	return t
}

// bands shows each measurement's bands: the first outcome as picture, all as table.
func (w words) bands(f *review.Findings) *section {
	var order []string
	by := map[string][]review.BandTable{}
	for _, b := range f.Bands {
		if len(b.Values) == 0 {
			continue
		}
		if by[b.Exposure] == nil {
			order = append(order, b.Exposure)
		}
		by[b.Exposure] = append(by[b.Exposure], b)
	}
	if len(order) == 0 {
		return nil
	}
	s := &section{ID: "measurements", Title: w.Say("measured.title"), Notes: []string{w.Say("measured.bands")}}
	for _, id := range order {
		b, noun := by[id][0], w.exposureNoun(id)
		t := w.estimateTable(w.caption(w.by(w.Say("table.every_outcome"), noun)), w.exposureTitle(id))
		for _, other := range by[id] {
			w.addRows(t, w.outcomeTitle(other.Outcome), id, other.Values)
		}
		title := w.by(w.outcomeTitle(b.Outcome), noun)
		s.Figures = append(s.Figures, *w.rowsFigure("band-"+id, title, w.spread(b.Outcome, id, b.Values), id, b.Values, w.overall(f, b.Outcome), t))
	}
	s.Lead = w.Say("measured.by", "measurement", w.exposureNoun(order[0]), "said", s.Figures[0].Lead)
	s.Figures[0].Lead = w.or("exposure.*.definition", order[0], "")
	return s
}

// zoneMaps draws both arches with one scale of fill.
func zoneMaps(f *review.Findings, w words) *section {
	if len(f.Zones) == 0 {
		return nil
	}
	top := 0.0
	for _, z := range f.Zones {
		if told(z.Estimate) {
			top = max(top, float64(z.Estimate.Value))
		}
	}
	s := &section{ID: "zones", Title: w.Say("zones.title"), Notes: []string{w.Say("zones.note")}}
	for _, arch := range []string{"upper", "lower"} {
		if fig := w.zoneFigure(f.Zones, arch, top); fig != nil {
			s.Figures = append(s.Figures, *fig)
		}
	}
	s.Figures = append(s.Figures, w.zoneDifferences(f)...)
	s.Lead = w.leadingPlace(f.Zones)
	return s
}

func (w words) zoneFigure(all []review.ZoneCount, arch string, top float64) *figure {
	var drawn []chart.Zone
	undrawn, unit := int64(0), ""
	t := &table{Caption: w.caption(w.Say("zones.table", "arch", w.own(arch))), Head: w.columns("place_own", "#spots", "#rate", "#interval", "unit", "#n", "method")}
	ordered := ranked(all, arch)
	for _, z := range ordered {
		name, e := w.placeName(z.Arch, z.Zone, z.Side), z.Estimate
		drawn = append(drawn, chart.Zone{Zone: z.Zone, Side: z.Side, Name: name, Value: plain(e, e.Value), Text: w.mapText(e), Full: w.full(e)})
		if !chart.Drawable(arch, z.Zone, z.Side) {
			undrawn += e.Events
		}
		c := w.cells(e)
		t.Rows = append(t.Rows, []string{w.placeCell(z.Arch, z.Zone, z.Side), w.count(e.Events), c[0], c[1], c[2], c[3], c[5]})
		unit = w.axisName(e.Unit)
	}
	if len(ordered) == 0 {
		return nil
	}
	fig := &figure{ID: "zones-" + arch, Title: w.Say("zones.figure", "arch", sentenceCase(w.own(arch))), Table: t}
	for _, z := range ordered[:min(5, len(ordered))] {
		fig.Rank = append(fig.Rank, w.Say("sentence.about", "about", sentenceCase(w.placeOf(z.Zone, z.Side)), "said", w.short(z.Estimate)))
	}
	if n := ordered[0].Estimate.N; n < leastCurve {
		fig.Rank, fig.Lead = nil, w.Say("zones.too_few", "n", n, "least", leastCurve)
		return fig
	}
	fig.SVG = template.HTML(chart.ZoneMap(w.Catalogue, arch, drawn, top, w.Say("zones.alt", "arch", w.own(arch), "unit", unit)))
	fig.Caption = w.Say("zones.caption", "n", ordered[0].Estimate.N, "unit", unit)
	if undrawn > 0 {
		fig.Caption = followed(fig.Caption, w.undrawn(undrawn))
	}
	return fig
}

// undrawn says that some spots have no place in the drawing.
func (w words) undrawn(spots int64) string {
	return w.Say("zones.undrawn", "spots", spots)
}

// ranked are an arch's places, the most frequent first.
func ranked(all []review.ZoneCount, arch string) []review.ZoneCount {
	var out []review.ZoneCount
	for _, z := range all {
		if z.Arch == arch {
			out = append(out, z)
		}
	}
	slices.SortStableFunc(out, func(a, b review.ZoneCount) int {
		switch {
		case told(a.Estimate) != told(b.Estimate):
			return map[bool]int{true: -1, false: 1}[told(a.Estimate)]
		case a.Estimate.Value > b.Estimate.Value:
			return -1
		case a.Estimate.Value < b.Estimate.Value:
			return 1
		}
		return 0
	})
	return out
}

func (w words) mapText(e review.Estimate) string {
	if !told(e) {
		return ""
	}
	if e.Value >= 10 || e.Value == 0 {
		return w.number(e.Value, 0)
	}
	return w.number(e.Value, 1)
}

func (w words) leadingPlace(all []review.ZoneCount) string {
	var places []string
	for _, arch := range []string{"upper", "lower"} {
		r := ranked(all, arch)
		if len(r) == 0 || !told(r[0].Estimate) || r[0].Estimate.N < leastCurve {
			continue
		}
		places = append(places, w.Say("zones.place", "place", w.placeName(arch, r[0].Zone, r[0].Side), "figure", w.full(r[0].Estimate)))
	}
	if places == nil {
		return w.Say("zones.none")
	}
	return w.Say("zones.lead", "places", strings.Join(places, "; "))
}
