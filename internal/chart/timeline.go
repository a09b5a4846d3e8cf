package chart

import (
	"fmt"
	"strings"

	"afterfit/internal/wording"
)

// MarkKind says what a mark on a timeline is; it decides the shape, so that the line
// reads in grey.
type MarkKind string

// The kinds of mark on a timeline.
const (
	MarkDelivery MarkKind = "delivery" // a triangle
	MarkAdjusted MarkKind = "adjusted" // a filled disc
	MarkSeen     MarkKind = "seen"     // an open ring: a visit without an adjustment
	MarkRepair   MarkKind = "repair"   // a square: relined, rebased or reset
	MarkRemake   MarkKind = "remake"   // a diamond
)

// Mark is one thing that happened on a day. Spots, when above zero, is written over
// the mark: the sore spots seen at the visit.
type Mark struct {
	Day   int64
	Kind  MarkKind
	Spots int
	Title string // in words
}

// Lane is one denture's line from From (its delivery) to To (the end of its
// follow-up), in days from records. From and To below 0 draw no line.
type Lane struct {
	Name     string
	From, To int64
	Marks    []Mark
}

// Measures of the timeline in its own units.
const (
	timeWidth, timeLeft, timeRight = 900, 96, 34
	laneHeight, timeHead, timeFoot = 74, 46, 64
	earlyDays                      = 90 // drawn wide: most visits fall there
)

// days is the scale of a timeline: straight in each of up to three parts, so that the
// crowded weeks after delivery have room. Ends of the parts are marked.
type days struct{ at, x []float64 }

// daysOf makes the scale for the first delivery (below 0 for none) and the last day.
func daysOf(delivery, last int64) days {
	width := float64(timeWidth - timeLeft - timeRight)
	if last < 1 {
		last = 1
	}
	s := days{[]float64{0}, []float64{timeLeft}}
	add := func(day int64, share float64) {
		if n := len(s.at) - 1; float64(day) > s.at[n] {
			s.at, s.x = append(s.at, float64(day)), append(s.x, s.x[n]+share)
		}
	}
	if delivery >= 0 && delivery < last {
		add(delivery, 0.16)
		add(min(delivery+earlyDays, last), 0.56)
	}
	add(last, 0.28)
	stretch := width / (s.x[len(s.x)-1] - timeLeft)
	for i := range s.x {
		s.x[i] = timeLeft + (s.x[i]-timeLeft)*stretch
	}
	return s
}

func (s days) x0(day int64) float64 {
	d := float64(day)
	for i := 1; i < len(s.at); i++ {
		if d <= s.at[i] || i == len(s.at)-1 {
			return s.x[i-1] + (d-s.at[i-1])/(s.at[i]-s.at[i-1])*(s.x[i]-s.x[i-1])
		}
	}
	return s.x[0]
}

// Timeline draws one lane per denture from the records (day 0) to the last day of
// observation. Delivery is the day of the first delivery, below 0 for none; the 90
// days after it are drawn wide. Sentences belong to the page: the picture carries
// marks, days and a key.
func Timeline(w *wording.Catalogue, lanes []Lane, delivery, last int64, title string) string {
	scale := daysOf(delivery, last)
	bottom := timeHead + laneHeight*len(lanes)
	var b strings.Builder
	svgHead(&b, "timeline", timeWidth, bottom+timeFoot, title)
	for i, d := range scale.at {
		x := scale.x[i]
		fmt.Fprintf(&b, `<line class="part" x1="%.1f" x2="%.1f" y1="%d" y2="%d"/><text class="tick" x="%.1f" y="%d" text-anchor="middle">%.0f</text>`, x, x, timeHead-14, bottom, x, bottom+18, d)
	}
	for i, name := range partNames(w, scale, delivery, last) {
		fmt.Fprintf(&b, `<text class="tick" x="%.1f" y="18" text-anchor="middle">%s</text>`, (scale.x[i]+scale.x[i+1])/2, escape(name))
	}
	fmt.Fprintf(&b, `<text class="tick" x="4" y="%d">%s</text>`, bottom+18, escape(w.Say("chart.day")))
	for i, l := range lanes {
		l.draw(&b, scale, float64(timeHead+laneHeight*i+48))
	}
	drawKey(w, &b, float64(bottom+44))
	b.WriteString("</svg>")
	return b.String()
}

// partNames names the parts that the scale has.
func partNames(w *wording.Catalogue, s days, delivery, last int64) []string {
	names := []string{w.Say("chart.before"), w.Say("chart.first_days", "days", earlyDays), w.Say("chart.later")}
	switch {
	case delivery < 0 || delivery >= last:
		return []string{w.Say("chart.observed")}
	case delivery == 0:
		names = names[1:]
	}
	return names[:len(s.at)-1]
}

func (l Lane) draw(b *strings.Builder, scale days, y float64) {
	fmt.Fprintf(b, `<text class="lane" x="4" y="%.1f">%s</text>`, y+4, escape(l.Name))
	if l.From >= 0 && l.To >= l.From {
		x := scale.x0(l.To)
		fmt.Fprintf(b, `<line class="own-line" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><line class="end" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`,
			scale.x0(l.From), x, y, y, x, x, y-9, y+9)
	}
	taken := [3]float64{-100, -100, -100} // where each level of numbers ends
	for _, m := range l.Marks {
		x := scale.x0(m.Day)
		b.WriteString(`<g class="mark">` + shapeOf(m.Kind, x, y))
		if m.Spots > 0 {
			fmt.Fprintf(b, `<text class="spots" x="%.1f" y="%.1f" text-anchor="middle">%d</text>`, x, y-13-13*float64(freeLevel(&taken, x)), m.Spots)
		}
		fmt.Fprintf(b, `<title>%s</title></g>`, escape(m.Title))
	}
}

// freeLevel finds the lowest level with room at x, or the one that ended longest ago,
// so that the numbers of neighbours stay apart.
func freeLevel(taken *[3]float64, x float64) int {
	level := 0
	for i := range taken {
		if x-taken[i] >= 12 {
			level = i
			break
		}
		if taken[i] < taken[level] {
			level = i
		}
	}
	taken[level] = x
	return level
}

func shapeOf(k MarkKind, x, y float64) string {
	switch k {
	case MarkDelivery:
		return fmt.Sprintf(`<path class="delivery" d="M%.1f %.1fL%.1f %.1fL%.1f %.1fZ"/>`, x-6, y-8, x+8, y, x-6, y+8)
	case MarkAdjusted:
		return fmt.Sprintf(`<circle class="own" cx="%.1f" cy="%.1f" r="6"/>`, x, y)
	case MarkRepair:
		return fmt.Sprintf(`<rect class="repair" x="%.1f" y="%.1f" width="14" height="14"/>`, x-7, y-7)
	case MarkRemake:
		return fmt.Sprintf(`<path class="remake" d="M%.1f %.1fL%.1f %.1fL%.1f %.1fL%.1f %.1fZ"/>`, x, y-10, x+10, y, x, y+10, x-10, y)
	}
	return fmt.Sprintf(`<circle class="ring" cx="%.1f" cy="%.1f" r="5.5"/>`, x, y)
}

// drawKey names the shapes under the lanes.
func drawKey(w *wording.Catalogue, b *strings.Builder, y float64) {
	x := float64(timeLeft)
	for _, k := range []struct {
		kind MarkKind
		name string
		room float64
	}{{MarkDelivery, w.Say("chart.delivery"), 92}, {MarkAdjusted, w.Say("chart.adjusted"), 96}, {MarkSeen, w.Say("chart.seen"), 156}, {MarkRepair, w.Say("chart.relined"), 144}, {MarkRemake, w.Say("chart.remade"), 90}} {
		fmt.Fprintf(b, `<g>%s<text class="tick" x="%.1f" y="%.1f">%s</text></g>`, shapeOf(k.kind, x+8, y-4), x+22, y, escape(k.name))
		x += k.room
	}
	fmt.Fprintf(b, `<text class="tick" x="%.1f" y="%.1f">%s</text>`, x, y, escape(w.Say("chart.number_spots")))
}
