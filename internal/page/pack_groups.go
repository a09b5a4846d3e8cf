package page

import (
	"fmt"
	"html/template"
	"slices"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// groupFigure shows one dimension: the first outcome as picture, all as table.
func groupFigure(f *review.Findings, dimension string) *figure {
	var groups []review.Group
	for _, g := range f.Groups {
		if g.Dimension == dimension && len(g.Values) > 0 {
			groups = append(groups, g)
		}
	}
	if len(groups) == 0 {
		return nil
	}
	name, g := dimensions[dimension], groups[0]
	t := estimateTable("Table: every outcome by "+name, sentenceCase(name))
	for _, g := range groups {
		addRows(t, outcomeOf(g.Outcome).Title, dimension, g.Values)
	}
	t.Screen = len(t.Rows) > mostPrinted
	title := outcomeOf(g.Outcome).Title + " by " + name
	return rowsFigure("by-"+dimension, title, spread(g.Outcome, dimension, g.Values), dimension, g.Values, overall(f, g.Outcome), t)
}

// overall is the service's own figure for an outcome, as a line to hold groups against.
func overall(f *review.Findings, id string) *chart.Rule {
	for _, h := range f.Headlines {
		if h.Outcome == id && told(h.Overall) {
			return &chart.Rule{At: float64(h.Overall.Value), Name: "all: " + figureOf(h.Overall)}
		}
	}
	return nil
}

// rowsFigure draws values of a dimension or band as intervals.
func rowsFigure(id, title, lead, dimension string, values []review.GroupValue, rule *chart.Rule, t *table) *figure {
	rows, axis, n := make([]chart.Row, len(values)), "", int64(0)
	for i, v := range values {
		rows[i] = rowOf(label(dimension, v.Code), v.Estimate)
		if notRecorded(v.Code) {
			rows[i].Kind = chart.Rest
		}
		n += v.Estimate.N
		axis = axisName(v.Estimate.Unit)
	}
	rows, drawn := fitRows(rows)
	fig := &figure{ID: id, Title: title, Lead: lead}
	if slices.ContainsFunc(values, func(v review.GroupValue) bool { return told(v.Estimate) }) { // else the picture would be empty
		fig = drawnFigure(id, title, lead, func() (chart.Drawn, error) { return chart.Rows(rows, axis, rule, title+". "+lead) })
	}
	fig.Caption = fmt.Sprintf("n = %s dentures. %s%sNot adjusted for case mix.", count(n), drawn, barsAre(fig, values[0].Estimate))
	fig.Table = t
	return fig
}

// barsAre explains the marks of a picture, where there is one.
func barsAre(fig *figure, e review.Estimate) string {
	if fig.Options == "" {
		return ""
	}
	return "Bars are " + level(e) + "intervals; open rings: not recorded. "
}

func axisName(unit string) string {
	if percent(unit) {
		return "% of dentures"
	}
	return unit
}

// estimateTable is a table of figures by group.
func estimateTable(caption, group string) *table {
	return &table{Caption: caption, Head: []column{{"Outcome", false}, {group, false}, {"Figure", true}, {"Interval", true}, {"Unit", false}, {"n", true}, {"Events", true}, {"Method", false}}}
}

func addRows(t *table, outcome, dimension string, values []review.GroupValue) {
	for _, v := range values {
		t.Rows = append(t.Rows, append([]string{outcome, label(dimension, v.Code)}, cells(v.Estimate)...))
	}
}

// cells are figure, interval, unit, n, events and method.
func cells(e review.Estimate) []string {
	if !told(e) {
		return []string{tooFew(e), "", axisName(e.Unit), count(e.N), count(e.Events), e.Method}
	}
	return []string{figureOf(e), marked(limits(e), e), axisName(e.Unit), count(e.N), count(e.Events), e.Method}
}

func valueTable(caption, group, dimension string, values []review.GroupValue) *table {
	t := &table{Caption: caption, Head: []column{{group, false}, {"Figure", true}, {"Interval", true}, {"Unit", false}, {"n", true}, {"Events", true}, {"Method", false}}}
	for _, v := range values {
		t.Rows = append(t.Rows, append([]string{label(dimension, v.Code)}, cells(v.Estimate)...))
	}
	return t
}

// bands shows each measurement's bands: the first outcome as picture, all as table.
func bands(f *review.Findings, _ words) *section {
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
	s := &section{ID: "measurements", Title: "How does trouble grow with the measurement?", Notes: []string{"Not adjusted for case mix. Not recorded is a band of its own and comes last."}}
	for _, id := range order {
		b, e := by[id][0], exposureOf(id)
		t := estimateTable("Table: every outcome by "+e.Noun, e.Title)
		for _, other := range by[id] {
			addRows(t, outcomeOf(other.Outcome).Title, id, other.Values)
		}
		title := outcomeOf(b.Outcome).Title + " by " + e.Noun
		s.Figures = append(s.Figures, *rowsFigure("band-"+id, title, spread(b.Outcome, id, b.Values), id, b.Values, overall(f, b.Outcome), t))
	}
	s.Lead = "By " + exposureOf(order[0]).Noun + ": " + s.Figures[0].Lead
	s.Figures[0].Lead = exposureOf(order[0]).Definition
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
	s := &section{ID: "zones", Title: "Where does it hurt?", Notes: []string{"Sore spots within 30 days of delivery. The drawing is a sketch of the denture’s bed; sides are the patient’s own. Darker means more, and both arches share one scale."}}
	for _, arch := range []string{"upper", "lower"} {
		if fig := zoneFigure(f.Zones, arch, top); fig != nil {
			s.Figures = append(s.Figures, *fig)
		}
	}
	s.Figures = append(s.Figures, zoneDifferences(f, w)...)
	s.Lead = leadingPlace(f.Zones)
	return s
}

func zoneFigure(all []review.ZoneCount, arch string, top float64) *figure {
	var drawn []chart.Zone
	undrawn, unit := int64(0), ""
	t := &table{Caption: "Table: sore spots of the " + arch + " by place", Head: []column{{placeHead, false}, {"Spots", true}, {"Rate", true}, {"Interval", true}, {"Unit", false}, {"n", true}, {"Method", false}}}
	ordered := ranked(all, arch)
	for _, z := range ordered {
		name, e := placeName(z.Arch, z.Zone, z.Side), z.Estimate
		drawn = append(drawn, chart.Zone{Zone: z.Zone, Side: z.Side, Name: name, Value: plain(e, e.Value), Text: mapText(e), Full: full(e)})
		if !chart.Drawable(arch, z.Zone, z.Side) {
			undrawn += e.Events
		}
		c := cells(e)
		t.Rows = append(t.Rows, []string{placeCell(name), count(e.Events), c[0], c[1], c[2], c[3], c[5]})
		unit = axisName(e.Unit)
	}
	if len(ordered) == 0 {
		return nil
	}
	fig := &figure{ID: "zones-" + arch, Title: sentenceCase(arch) + " dentures", Table: t}
	for _, z := range ordered[:min(5, len(ordered))] {
		fig.Rank = append(fig.Rank, sentenceCase(placeOf(z.Zone, z.Side))+": "+short(z.Estimate))
	}
	if n := ordered[0].Estimate.N; n < leastCurve {
		fig.Rank, fig.Lead = nil, fmt.Sprintf("Too few to tell: %s, %d or more are needed.", plural(n, "denture"), leastCurve)
		return fig
	}
	fig.SVG = template.HTML(chart.ZoneMap(arch, drawn, top, "Sore spots of the "+arch+" by place, "+unit))
	fig.Caption = fmt.Sprintf("n = %s dentures; numbers are spots %s. A dashed outline: too few to tell.", count(ordered[0].Estimate.N), unit)
	if undrawn > 0 {
		fig.Caption += fmt.Sprintf(" %s recorded without a side that the drawing has; see the table.", plural(undrawn, "spot"))
	}
	return fig
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

func mapText(e review.Estimate) string {
	if !told(e) {
		return ""
	}
	if e.Value >= 10 || e.Value == 0 {
		return number(e.Value, 0)
	}
	return number(e.Value, 1)
}

func leadingPlace(all []review.ZoneCount) string {
	var places []string
	for _, arch := range []string{"upper", "lower"} {
		r := ranked(all, arch)
		if len(r) == 0 || !told(r[0].Estimate) || r[0].Estimate.N < leastCurve {
			continue
		}
		places = append(places, placeName(arch, r[0].Zone, r[0].Side)+", "+full(r[0].Estimate))
	}
	if places == nil {
		return "Too few dentures to tell where it hurts most."
	}
	return "Sore spots lay most often at: " + strings.Join(places, "; ") + "."
}
