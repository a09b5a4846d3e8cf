package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// zoneDifferences draws, for each habit among the strongest, where dentures with it
// are sore more often or less often than those without.
func (w words) zoneDifferences(f *review.Findings) []figure {
	var order []string
	by := map[string][]review.ZoneContrast{}
	for _, z := range f.ZonesByHabit {
		if by[z.Habit] == nil {
			order = append(order, z.Habit)
		}
		by[z.Habit] = append(by[z.Habit], z)
	}
	strength := func(id string) int {
		return slices.IndexFunc(f.Strongest, func(p review.Pair) bool { return p.Habit == id })
	}
	slices.SortStableFunc(order, func(a, b string) int { return strength(a) - strength(b) })
	var out []figure
	for i, id := range order {
		all := by[id]
		lead := w.zoneLead(id, all)
		for _, arch := range []string{"upper", "lower"} {
			if fig := w.differenceFigure(all, arch, fmt.Sprintf("zone-difference-%d-%s", i+1, arch), steepest(all)); fig != nil {
				fig.Lead, lead = lead, ""
				out = append(out, *fig)
			}
		}
	}
	return out
}

// steepest is the largest difference that is sure, or the largest of all where none is.
func steepest(all []review.ZoneContrast) float64 {
	sure, any := 0.0, 0.0
	for _, z := range all {
		if !told(z.Difference) {
			continue
		}
		v := math.Abs(float64(z.Difference.Value))
		any = math.Max(any, v)
		if z.Clear() {
			sure = math.Max(sure, v)
		}
	}
	if sure > 0 {
		return sure
	}
	return any
}

// zoneLead tells at how many places a habit goes with more spots, and where most.
func (w words) zoneLead(id string, all []review.ZoneContrast) string {
	var more, fewer, unsure int64
	var most *review.ZoneContrast
	for i := range all {
		z := &all[i]
		switch {
		case !told(z.Difference):
			continue
		case !z.Clear():
			unsure++
			continue
		case z.Difference.Value > 0:
			more++
		default:
			fewer++
		}
		if most == nil || math.Abs(float64(z.Difference.Value)) > math.Abs(float64(most.Difference.Value)) {
			most = z
		}
	}
	who := sentenceCase(w.who(id))
	if most == nil {
		return w.Say("zones.no_difference", "who", who, "unsure", unsure)
	}
	return w.Say("zones.difference",
		"who", who, "more", more, "fewer", fewer, "unsure", unsure, "place", w.placeName(most.Arch, most.Zone, most.Side), "difference", w.signed(most.Difference), "interval", w.interval(most.Difference))
}

// signed is a difference with its sign and as many decimals as a place has room for.
func (w words) signed(e review.Estimate) string {
	d := 1
	if math.Abs(float64(e.Value)) >= 9.95 {
		d = 0
	}
	s := w.number(e.Value, d)
	if e.Value > 0 {
		return "+" + s
	}
	return s
}

func (w words) differenceFigure(all []review.ZoneContrast, arch, id string, top float64) *figure {
	about := []any{"arch", w.own(arch), "habit", w.habit(all[0].Habit)}
	t := &table{Screen: true, Caption: w.caption(w.Say("zones.difference_table", about...)), Head: w.columns("place_own", "#with", "#n_with", "#without", "#n_without",
		"#difference", "#interval", "unit", "#spots", "method")}
	var own []review.ZoneContrast
	var drawn []chart.Difference
	undrawn := int64(0)
	for _, z := range all {
		if z.Arch != arch {
			continue
		}
		own = append(own, z)
		d := z.Difference
		c := w.cells(d)
		if told(d) {
			c[0] = w.signed(d)
		} else {
			c[0] = w.Say("zones.few")
		}
		t.Rows = append(t.Rows, []string{sentenceCase(w.placeIn(z.Zone, z.Side)), marked(w.short(z.With), z.With), w.count(z.With.N), marked(w.short(z.Without), z.Without), w.count(z.Without.N), c[0], c[1], c[2], c[4], c[5]})
		mark := chart.Difference{Zone: z.Zone, Side: z.Side, Name: w.placeOf(z.Zone, z.Side), Value: plain(d, d.Value), Sure: z.Clear(), Full: w.full(d)}
		if told(d) {
			mark.Text = w.signed(d)
		}
		drawn = append(drawn, mark)
		if !chart.Drawable(arch, z.Zone, z.Side) {
			undrawn += d.Events
		}
	}
	if len(own) == 0 {
		return nil
	}
	fig := &figure{ID: id, Title: w.Say("zones.difference_title", about...), Table: t, RankTitle: w.Say("zones.largest"), Rank: w.largest(own)}
	fig.SVG = template.HTML(chart.DifferenceMap(w.Catalogue, arch, drawn, top, id+"-hatch", w.Say("zones.difference_alt", about...)))
	fig.Caption = w.Say("zones.difference_caption",
		"n", own[0].With.N, "other_n", own[0].Without.N)
	if undrawn > 0 {
		fig.Caption = followed(fig.Caption, w.undrawn(undrawn))
	}
	return fig
}

// largest are the clear differences, largest first, at most five.
func (w words) largest(own []review.ZoneContrast) []string {
	clear := slices.DeleteFunc(slices.Clone(own), func(z review.ZoneContrast) bool { return !z.Clear() })
	slices.SortStableFunc(clear, func(a, b review.ZoneContrast) int {
		x, y := math.Abs(float64(a.Difference.Value)), math.Abs(float64(b.Difference.Value))
		switch {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	var out []string
	for _, z := range clear[:min(5, len(clear))] {
		out = append(out, w.Say("sentence.about", "about", sentenceCase(w.placeOf(z.Zone, z.Side)), "said", w.Say("figure.with_limits", "figure", w.signed(z.Difference), "range", w.limits(z.Difference))))
	}
	if out == nil {
		return []string{w.Say("zones.none_clear")}
	}
	return out
}
