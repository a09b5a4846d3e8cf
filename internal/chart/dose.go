package chart

import (
	"fmt"
	"math"
	"strings"

	"afterfit/internal/wording"
)

// DosePoint is a curve at one value, with its limits.
type DosePoint struct{ X, Y, Low, High float64 }

// DoseCount is how many have one value.
type DoseCount struct {
	X float64
	N int64
}

// Dose is a curve over a measurement. Reference is the value that the band is held
// against, where it closes; Low and High are the usual range.
type Dose struct {
	Points    []DosePoint
	Counts    []DoseCount
	Reference float64
	Low, High float64
	Unit      string // of the upright axis
	Along     string // name of the measurement with its unit
	Counted   string // what the strip counts
	Title     string
}

// stripHeight is the room of the strip of counts under a curve, in user units.
const stripHeight = 30

// DrawDose draws the curve with its band, the reference as a ring, the figure at either
// end, the usual range as a bar, and how many have each value as a strip under it, as
// SVG; "" with fewer than two points. The upright axis starts at zero.
func DrawDose(w *wording.Catalogue, d Dose) string {
	if len(d.Points) < 2 {
		return ""
	}
	f := frameBox{w: 420, h: 310, left: 44, right: 14, top: 28, bottom: 88, lowX: d.Points[0].X, highX: d.Points[len(d.Points)-1].X}
	pad := (f.highX - f.lowX) / 40
	f.lowX, f.highX = f.lowX-pad, f.highX+pad
	s := newSpan()
	for _, p := range d.Points {
		s.add(p.Y, p.High)
	}
	var step float64
	f.lowY, f.highY, step = s.ends()
	var b strings.Builder
	svgHead(&b, "dose", int(f.w), int(f.h), d.Title)
	f.upright(w, &b, step, d.Unit)
	fmt.Fprintf(&b, `<line class="zero" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, f.left, f.w-f.right, f.y(0), f.y(0))
	d.band(&b, f)
	d.usual(w, &b, f)
	d.strip(w, &b, f)
	d.along(w, &b, f)
	d.labels(w, &b, f)
	b.WriteString("</svg>")
	return b.String()
}

// band draws the limits as one shape and the curve over it.
func (d Dose) band(b *strings.Builder, f frameBox) {
	var there, back, line strings.Builder
	pen := "M"
	for i, p := range d.Points {
		q := d.Points[len(d.Points)-1-i]
		fmt.Fprintf(&there, "%s%.1f %.1f", pen, f.x(p.X), f.y(math.Min(p.High, f.highY)))
		fmt.Fprintf(&back, "L%.1f %.1f", f.x(q.X), f.y(q.Low))
		fmt.Fprintf(&line, "%s%.1f %.1f", pen, f.x(p.X), f.y(p.Y))
		pen = "L"
	}
	fmt.Fprintf(b, `<path class="dose-band" d="%s%sZ"/><path class="own-line" d="%s"/>`, there.String(), back.String(), line.String())
}

// usual draws the usual range just over the axis, as far as it is in the picture.
func (d Dose) usual(w *wording.Catalogue, b *strings.Builder, f frameBox) {
	low, high := math.Max(d.Low, f.lowX), math.Min(d.High, f.highX)
	if !(low < high) {
		return
	}
	y := f.y(0) - 5
	fmt.Fprintf(b, `<line class="dose-usual" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text class="tick halo" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`,
		f.x(low), f.x(high), y, y, (f.x(low)+f.x(high))/2, y-5, escape(w.Say("chart.usual")))
}

// strip draws how many have each value as bars that hang in a strip under the axis.
func (d Dose) strip(w *wording.Catalogue, b *strings.Builder, f frameBox) {
	most := int64(0)
	for _, c := range d.Counts {
		if c.X >= f.lowX && c.X <= f.highX {
			most = max(most, c.N)
		}
	}
	if most == 0 {
		return
	}
	foot := f.y(0) + 22 + stripHeight
	var bars strings.Builder
	for _, c := range d.Counts {
		if c.X >= f.lowX && c.X <= f.highX {
			fmt.Fprintf(&bars, "M%.1f %.1fV%.1f", f.x(c.X), foot, foot-math.Max(1, stripHeight*float64(c.N)/float64(most)))
		}
	}
	fmt.Fprintf(b, `<path class="dose-count" d="%s"/><text class="tick" x="%.1f" y="%.1f" text-anchor="end">%s</text><text class="tick" x="0" y="%.1f">%s</text>`,
		bars.String(), f.left-6, foot-stripHeight+9, w.Tick(float64(most)), foot, escape(w.Say("chart.n")))
}

// along writes the values under the axis, and the measurement's name at the foot.
func (d Dose) along(w *wording.Catalogue, b *strings.Builder, f frameBox) {
	step := 1.0
	for (f.highX-f.lowX)/step > 10 {
		step *= 2
	}
	for i := int(math.Ceil(f.lowX / step)); float64(i)*step <= f.highX; i++ {
		fmt.Fprintf(b, `<text class="tick" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, f.x(float64(i)*step), f.y(0)+16, escape(w.Tick(float64(i)*step)))
	}
	fmt.Fprintf(b, `<text class="tick" x="%.1f" y="%.1f" text-anchor="end">%s</text>`, f.w-f.right, f.h-6, escape(d.Along))
}

// labels writes the figures at the reference and at either end of the curve.
func (d Dose) labels(w *wording.Catalogue, b *strings.Builder, f frameBox) {
	at := nearest(d.Points, d.Reference)
	first, last := d.Points[0], d.Points[len(d.Points)-1]
	fmt.Fprintf(b, `<circle class="rest" cx="%.1f" cy="%.1f" r="4.5"/>`, f.x(at.X), f.y(at.Y))
	for _, p := range []struct {
		DosePoint
		anchor string
	}{{first, "start"}, {at, "middle"}, {last, "end"}} {
		if p.DosePoint != at && math.Abs(f.x(p.X)-f.x(at.X)) < 44 {
			continue // it would cover the reference's figure
		}
		fmt.Fprintf(b, `<text class="halo" x="%.1f" y="%.1f" text-anchor="%s">%s</text>`, f.x(p.X), f.y(p.Y)-10, p.anchor, escape(shortFigure(w, p.Y)))
	}
}

func nearest(points []DosePoint, x float64) DosePoint {
	best := points[0]
	for _, p := range points {
		if math.Abs(p.X-x) < math.Abs(best.X-x) {
			best = p
		}
	}
	return best
}

// shortFigure is a rate with as many places as its size calls for.
func shortFigure(w *wording.Catalogue, v float64) string {
	if math.Abs(v) >= 20 {
		return w.Number(v, 0)
	}
	return w.Number(v, 1)
}
