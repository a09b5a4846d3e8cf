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
func zoneDifferences(f *review.Findings, w words) []figure {
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
			if fig := differenceFigure(w, all, arch, fmt.Sprintf("zone-difference-%d-%s", i+1, arch), steepest(all)); fig != nil {
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
	what := w.habitSentence(id)
	if what == "" {
		what = "with “" + w.habit(id) + "”"
	}
	if most == nil {
		return fmt.Sprintf("Dentures %s differ clearly from the others at no place; at %s the interval holds zero.", what, plural(unsure, "place"))
	}
	return fmt.Sprintf("Dentures %s were sore clearly more often at %s and less often at %s; at %s the interval holds zero. The largest: %s, %s per 100 dentures (%s).",
		what, plural(more, "place"), plural(fewer, "place"), plural(unsure, "place"), placeName(most.Arch, most.Zone, most.Side), signed(most.Difference), interval(most.Difference))
}

// signed is a difference with its sign and as many decimals as a place has room for.
func signed(e review.Estimate) string {
	d := 1
	if math.Abs(float64(e.Value)) >= 9.95 {
		d = 0
	}
	s := number(e.Value, d)
	if e.Value > 0 {
		return "+" + s
	}
	return s
}

func differenceFigure(w words, all []review.ZoneContrast, arch, id string, top float64) *figure {
	name := "“" + w.habit(all[0].Habit) + "”, " + arch
	t := &table{Screen: true, Caption: "Table: sore spots of the " + arch + " with " + "“" + w.habit(all[0].Habit) + "” and without", Head: []column{{placeHead, false}, {"With", true}, {"n with", true}, {"Without", true}, {"n without", true},
		{"Difference", true}, {"Interval", true}, {"Unit", false}, {"Spots", true}, {"Method", false}}}
	var own []review.ZoneContrast
	var drawn []chart.Difference
	undrawn := int64(0)
	for _, z := range all {
		if z.Arch != arch {
			continue
		}
		own = append(own, z)
		d := z.Difference
		c := cells(d)
		if told(d) {
			c[0] = signed(d)
		} else {
			c[0] = "too few"
		}
		t.Rows = append(t.Rows, []string{placeCell(placeOf(z.Zone, z.Side)), marked(short(z.With), z.With), count(z.With.N), marked(short(z.Without), z.Without), count(z.Without.N), c[0], c[1], c[2], c[4], c[5]})
		mark := chart.Difference{Zone: z.Zone, Side: z.Side, Name: placeOf(z.Zone, z.Side), Value: plain(d, d.Value), Sure: z.Clear(), Full: full(d)}
		if told(d) {
			mark.Text = signed(d)
		}
		drawn = append(drawn, mark)
		if !chart.Drawable(arch, z.Zone, z.Side) {
			undrawn += d.Events
		}
	}
	if len(own) == 0 {
		return nil
	}
	fig := &figure{ID: id, Title: name + ": difference in sore spots", Table: t, RankTitle: "Largest clear differences", Rank: largest(own)}
	fig.SVG = template.HTML(chart.DifferenceMap(arch, drawn, top, id+"-hatch", "Difference in sore spots of the "+arch+" with "+name+" and without, per 100 dentures"))
	fig.Caption = fmt.Sprintf("n = %s dentures with the habit, %s without; numbers are spots per 100 dentures, with less without. + and warm fill: more; − and blue: fewer; hatched: the interval holds zero; a dashed outline: too few to tell. Of many places some stand out by chance alone. Not adjusted for case mix.",
		count(own[0].With.N), count(own[0].Without.N))
	if undrawn > 0 {
		fig.Caption += fmt.Sprintf(" %s recorded without a side that the drawing has; see the table.", plural(undrawn, "spot"))
	}
	return fig
}

// largest are the clear differences, largest first, at most five.
func largest(own []review.ZoneContrast) []string {
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
		out = append(out, sentenceCase(placeOf(z.Zone, z.Side))+": "+signed(z.Difference)+" ("+limits(z.Difference)+")")
	}
	if out == nil {
		return []string{"None: every interval holds zero, or there are too few to tell."}
	}
	return out
}
