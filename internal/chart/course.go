package chart

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"afterfit/internal/wording"
)

// CoursePoint is one period of a line: At counts periods from 0. Open is drawn as a
// ring and off the line (not yet to be judged), Beyond as a diamond.
type CoursePoint struct {
	At           int
	Value        float64
	Open, Beyond bool
}

// CourseLine is one line over periods; Rest is drawn grey and dashed. A Name is
// written at its end.
type CourseLine struct {
	Name   string
	Kind   Kind
	Points []CoursePoint
}

// CourseMark is an upright line before a period, such as the start of a change.
type CourseMark struct {
	At   int
	Name string
}

// Course is a picture over periods. Low and High are limits by period, NaN where there
// are none; Center is a level line, NaN for none.
type Course struct {
	Periods    []string
	Lines      []CourseLine
	Low, High  []float64
	Center     float64
	CenterName string
	HighName   string
	Marks      []CourseMark
	Unit       string
	Title      string
	Small      bool // for several beside each other
}

// frameBox is the room of a picture in user units.
type frameBox struct {
	w, h, left, right, top, bottom float64
	lowX, highX, lowY, highY       float64
}

func (f frameBox) x(v float64) float64 {
	return f.left + (v-f.lowX)/(f.highX-f.lowX)*(f.w-f.left-f.right)
}
func (f frameBox) y(v float64) float64 {
	return f.h - f.bottom - (v-f.lowY)/(f.highY-f.lowY)*(f.h-f.top-f.bottom)
}

// upright draws the ticks of the upright axis with faint lines and the unit on top.
func (f frameBox) upright(w *wording.Catalogue, b *strings.Builder, step float64, unit string) {
	for i := 0; f.lowY+float64(i)*step <= f.highY+step/2; i++ {
		v := f.lowY + float64(i)*step
		fmt.Fprintf(b, `<line class="faint" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text class="tick" x="%.1f" y="%.1f" text-anchor="end">%s</text>`,
			f.left, f.w-f.right, f.y(v), f.y(v), f.left-6, f.y(v)+4, escape(w.Tick(v)))
	}
	fmt.Fprintf(b, `<text class="tick" x="0" y="12">%s</text>`, escape(unit))
}

// DrawCourse draws the picture as SVG, "" with fewer than two periods. The upright axis
// starts at zero.
func DrawCourse(w *wording.Catalogue, c Course) string {
	if len(c.Periods) < 2 {
		return ""
	}
	f := frameBox{w: 720, h: 260, left: 44, right: 12, top: 30, bottom: 26, highX: float64(len(c.Periods)) - 0.5, lowX: -0.5}
	class := "course"
	if c.Small {
		f.w, f.h, f.top, class = 420, 184, 44, "course small" // the unit has a line above the marks
	}
	if c.named() {
		f.right = 84
	}
	s := newSpan()
	s.add(c.Center)
	s.add(c.High...)
	for _, l := range c.Lines {
		for _, p := range l.Points {
			s.add(p.Value)
		}
	}
	var step float64
	f.lowY, f.highY, step = s.ends()
	var b strings.Builder
	svgHead(&b, class, int(f.w), int(f.h), c.Title)
	f.upright(w, &b, step, c.Unit)
	fmt.Fprintf(&b, `<line class="zero" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, f.left, f.w-f.right, f.y(0), f.y(0))
	c.along(w, &b, f)
	c.limits(&b, f)
	for _, m := range c.Marks {
		x := f.x(float64(m.At) - 0.5)
		fmt.Fprintf(&b, `<line class="mark" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text x="%.1f" y="%.1f" text-anchor="%s">%s</text>`,
			x, x, f.top-8, f.h-f.bottom, x, f.top-12, anchor(x, f.w), escape(m.Name))
	}
	for _, l := range c.Lines {
		l.draw(&b, f)
	}
	c.center(&b, f)
	c.names(&b, f)
	b.WriteString("</svg>")
	return b.String()
}

// along writes names of periods as room allows, preferring the first of a year.
func (c Course) along(w *wording.Catalogue, b *strings.Builder, f frameBox) {
	most := int((f.w - f.left) / 78)
	every := (len(c.Periods) + most - 1) / most
	if every > 1 && strings.HasSuffix(c.Periods[0], "-01") {
		every = (every + 5) / 6 * 6
	}
	for i := 0; i < len(c.Periods); i += every {
		fmt.Fprintf(b, `<text class="tick" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, math.Max(f.x(float64(i)), 30), f.h-8, escape(w.Period(c.Periods[i])))
	}
}

// limits draws the limits as steps and the level line.
func (c Course) limits(b *strings.Builder, f frameBox) {
	for _, limit := range [][]float64{c.Low, c.High} {
		var path strings.Builder
		for i, v := range limit {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				continue
			}
			fmt.Fprintf(&path, "M%.1f %.1fL%.1f %.1f", f.x(float64(i)-0.5), f.y(v), f.x(float64(i)+0.5), f.y(v))
		}
		if path.Len() > 0 {
			fmt.Fprintf(b, `<path class="limit" d="%s"/>`, path.String())
		}
	}
	if n := len(c.High); n > 0 && c.HighName != "" && !math.IsNaN(c.High[0]) {
		fmt.Fprintf(b, `<text class="tick" x="%.1f" y="%.1f">%s</text>`, f.left+4, f.y(c.High[0])-5, escape(c.HighName))
	}
	if !math.IsNaN(c.Center) {
		fmt.Fprintf(b, `<line class="all" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, f.left, f.w-f.right, f.y(c.Center), f.y(c.Center))
	}
}

// center names the level line, over the points so that they do not hide it.
func (c Course) center(b *strings.Builder, f frameBox) {
	if !math.IsNaN(c.Center) {
		fmt.Fprintf(b, `<text class="halo" x="%.1f" y="%.1f" text-anchor="end">%s</text>`, f.w-f.right, f.y(0)-8, escape(c.CenterName))
	}
}

// draw draws a line and its points; open points stand off the line.
func (l CourseLine) draw(b *strings.Builder, f frameBox) {
	class, point := "own-line", "own"
	if l.Kind == Rest {
		class, point = "rest-line", "rest"
	}
	var path strings.Builder
	pen := "M"
	for _, p := range l.Points {
		if math.IsNaN(p.Value) || p.Open {
			pen = "M"
			continue
		}
		fmt.Fprintf(&path, "%s%.1f %.1f", pen, f.x(float64(p.At)), f.y(p.Value))
		pen = "L"
	}
	fmt.Fprintf(b, `<path class="%s" d="%s"/>`, class, path.String())
	for _, p := range l.Points {
		if math.IsNaN(p.Value) {
			continue
		}
		x, y := f.x(float64(p.At)), f.y(p.Value)
		switch {
		case p.Beyond:
			diamond(b, "beyond", x, y, 7)
		case p.Open:
			fmt.Fprintf(b, `<circle class="rest" cx="%.1f" cy="%.1f" r="4"/>`, x, y)
		default:
			fmt.Fprintf(b, `<circle class="%s" cx="%.1f" cy="%.1f" r="3.5"/>`, point, x, y)
		}
	}
}

// names writes each line's name at the right of its last point, apart where two lines
// end close together.
func (c Course) names(b *strings.Builder, f frameBox) {
	type name struct {
		text string
		y    float64
	}
	var all []name
	for _, l := range c.Lines {
		if n := len(l.Points); l.Name != "" && n > 0 && !math.IsNaN(l.Points[n-1].Value) {
			all = append(all, name{l.Name, f.y(l.Points[n-1].Value) + 4})
		}
	}
	slices.SortStableFunc(all, func(a, b name) int { return cmp.Compare(a.y, b.y) })
	for i, n := range all {
		if i > 0 {
			n.y = math.Max(n.y, all[i-1].y+15)
			all[i] = n
		}
		fmt.Fprintf(b, `<text x="%.1f" y="%.1f">%s</text>`, f.w-f.right+6, n.y, escape(n.text))
	}
}

// named reports whether any line has a name, which needs room at the right.
func (c Course) named() bool {
	return slices.ContainsFunc(c.Lines, func(l CourseLine) bool { return l.Name != "" })
}

func diamond(b *strings.Builder, class string, x, y, r float64) {
	fmt.Fprintf(b, `<path class="%s" d="M%.1f %.1fL%.1f %.1fL%.1f %.1fL%.1f %.1fZ"/>`, class, x, y-r, x+r, y, x, y+r, x-r, y)
}
