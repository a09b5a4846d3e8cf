package chart

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"afterfit/internal/wording"
)

// svgHead opens an SVG that a screen reader reads as one picture with a title.
func svgHead(b *strings.Builder, class string, w, h int, title string) {
	fmt.Fprintf(b, `<svg class="%s" viewBox="0 0 %d %d" role="img" aria-label="%s"><title>%s</title>`, class, w, h, escape(title), escape(title))
}

// Spark draws a line of values without axes, the last one marked; gaps where a value
// is NaN. It is empty with fewer than two values. The title says in words what it
// shows.
func Spark(values []float64, title string) string {
	if len(values) < 2 {
		return ""
	}
	const w, h, pad = 160, 36, 5
	s := newSpan()
	s.add(values...)
	low, high, _ := s.ends()
	x := func(i int) float64 { return pad + float64(i)*(w-2*pad)/float64(len(values)-1) }
	y := func(v float64) float64 { return h - pad - (v-low)/(high-low)*(h-2*pad) }
	var b, path strings.Builder
	svgHead(&b, "spark", w, h, title)
	fmt.Fprintf(&b, `<line class="zero" x1="0" x2="%d" y1="%.1f" y2="%.1f"/>`, w, y(0), y(0))
	pen, last := "M", -1
	for i, v := range values {
		if math.IsNaN(v) {
			pen = "M"
			continue
		}
		fmt.Fprintf(&path, "%s%.1f %.1f", pen, x(i), y(v))
		pen, last = "L", i
	}
	fmt.Fprintf(&b, `<path class="own-line" d="%s"/>`, path.String())
	if last >= 0 {
		fmt.Fprintf(&b, `<circle class="own" cx="%.1f" cy="%.1f" r="3.5"/>`, x(last), y(values[last]))
	}
	b.WriteString("</svg>")
	return b.String()
}

// Beside is the reader's figure among colleagues', all in one unit.
type Beside struct {
	Own, Low, High float64 // NaN where too few
	Colleagues     float64 // all colleagues together
	Peers          []float64
	Unit           string
	Title          string
}

// Strip draws colleagues as unlabelled ticks, all colleagues together as a tall line,
// and the reader as a labelled disc with its interval.
func Strip(w *wording.Catalogue, p Beside) string {
	const wide, h, left, right, mid = 520, 104, 16, 16, 46
	s := newSpan()
	s.add(p.Own, p.Low, p.High, p.Colleagues)
	s.add(p.Peers...)
	low, high, step := s.ends()
	x := func(v float64) float64 { return left + (v-low)/(high-low)*(wide-left-right) }
	var b strings.Builder
	svgHead(&b, "strip", wide, h, p.Title)
	fmt.Fprintf(&b, `<line class="zero" x1="%d" x2="%d" y1="%d" y2="%d"/>`, left, wide-right, mid+16, mid+16)
	for v := low; v <= high+step/2; v += step {
		fmt.Fprintf(&b, `<text class="tick" x="%.1f" y="%d" text-anchor="%s">%s</text>`, x(v), mid+34, anchor(x(v), wide), escape(w.Tick(v)))
	}
	tick := fmt.Sprintf(`" y1="%d" y2="%d"/>`, mid-8, mid+8)
	b.Grow(len(p.Peers) * 64) // hundreds of ticks, which would take most of the time of all summaries as formats
	var at [24]byte
	for _, v := range p.Peers {
		if !math.IsNaN(v) {
			at := strconv.AppendFloat(at[:0], x(v), 'f', 1, 64)
			b.WriteString(`<line class="peer" x1="`)
			b.Write(at)
			b.WriteString(`" x2="`)
			b.Write(at)
			b.WriteString(tick)
		}
	}
	if !math.IsNaN(p.Colleagues) {
		fmt.Fprintf(&b, `<line class="all" x1="%.1f" x2="%.1f" y1="%d" y2="%d"/>`, x(p.Colleagues), x(p.Colleagues), mid-16, mid+16)
	}
	if !math.IsNaN(p.Low) && !math.IsNaN(p.High) {
		fmt.Fprintf(&b, `<line class="own-line" x1="%.1f" x2="%.1f" y1="%d" y2="%d"/>`, x(p.Low), x(p.High), mid, mid)
	}
	if !math.IsNaN(p.Own) {
		fmt.Fprintf(&b, `<circle class="own" cx="%.1f" cy="%d" r="7"/><text class="you" x="%.1f" y="%d" text-anchor="%s">%s</text>`,
			x(p.Own), mid, x(p.Own), mid-20, anchor(x(p.Own), wide), escape(w.Say("chart.you")))
	}
	fmt.Fprintf(&b, `<text class="tick" x="%d" y="%d" text-anchor="end">%s</text></svg>`, wide-right, h-5, escape(p.Unit))
	return b.String()
}

// anchor keeps a label inside the picture at either end.
func anchor(x, w float64) string {
	switch {
	case x < 30:
		return "start"
	case x > w-30:
		return "end"
	}
	return "middle"
}
