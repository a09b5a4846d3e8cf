package chart

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"

	"afterfit/internal/wording"
)

// Zone is one place of an arch with its figure. Side is the patient's own: left,
// right, middle or "". Value is the rate that decides the fill, NaN for too few.
type Zone struct {
	Zone, Side string
	Name       string // in words, for the title
	Value      float64
	Text       string // short figure, written into the place
	Full       string // figure with n and interval, for the title
}

func escape(s string) string { return html.EscapeString(s) }

// shape is where a place lies on the drawing: a piece of a ring between two shares of
// the arch's radius and two angles from the front, in degrees towards the patient's
// left; the right side is its mirror image.
type shape struct{ inner, outer, from, to float64 }

// paired places exist left and right, single ones in the middle, and split ones in
// all three. The positions are a sketch of the denture's bed, not a measurement.
type place struct {
	zone  string
	shape shape
	sides string // "LR", "M" or "LMR"; for LMR the middle spans up to shape.from on both sides
}

var arches = map[string][]place{
	"upper": {
		{"palate_side", shape{.08, .60, 22, 122}, "LR"},
		{"palate_midline", shape{.04, .42, 0, 20}, "M"},
		{"incisive_papilla", shape{.44, .60, 0, 20}, "M"},
		{"ridge_crest_front", shape{.62, .82, 14, 40}, "LMR"},
		{"ridge_crest_back", shape{.62, .82, 40, 80}, "LR"},
		{"tuberosity", shape{.62, .82, 80, 104}, "LR"},
		{"hamular_notch", shape{.62, .82, 104, 124}, "LR"},
		{"labial_sulcus", shape{.84, 1, 14, 42}, "LMR"},
		{"buccal_sulcus", shape{.84, 1, 42, 86}, "LR"},
		{"distobuccal", shape{.84, 1, 86, 114}, "LR"},
		{"labial_frenum", shape{1.02, 1.17, 0, 9}, "M"},
		{"buccal_frenum", shape{1.02, 1.17, 36, 52}, "LR"},
		{"posterior_seal", shape{.40, .60, 124, 180}, "LMR"},
	},
	"lower": {
		{"genial", shape{.14, .28, 0, 34}, "M"},
		{"lingual_frenum", shape{.30, .42, 0, 22}, "M"},
		{"torus", shape{.26, .42, 34, 76}, "LR"},
		{"lingual_sulcus_front", shape{.44, .60, 12, 36}, "LMR"},
		{"lingual_sulcus", shape{.44, .60, 36, 68}, "LR"},
		{"mylohyoid_ridge", shape{.44, .60, 68, 96}, "LR"},
		{"retromylohyoid", shape{.44, .60, 96, 122}, "LR"},
		{"ridge_crest_front", shape{.62, .82, 12, 36}, "LMR"},
		{"mental_foramen", shape{.62, .82, 36, 54}, "LR"},
		{"ridge_crest_back", shape{.62, .82, 54, 96}, "LR"},
		{"retromolar_pad", shape{.62, .82, 96, 120}, "LR"},
		{"labial_sulcus", shape{.84, 1, 14, 42}, "LMR"},
		{"buccal_sulcus", shape{.84, 1, 42, 68}, "LR"},
		{"buccal_shelf", shape{.84, 1, 68, 94}, "LR"},
		{"distobuccal", shape{.84, 1, 94, 116}, "LR"},
		{"labial_frenum", shape{1.02, 1.17, 0, 9}, "M"},
		{"buccal_frenum", shape{1.02, 1.17, 36, 52}, "LR"},
	},
}

// Measures of the drawing in its own units.
const (
	mapWidth, mapHeight = 400, 330
	radiusX, radiusY    = 158, 168
)

// spot is a place on one side, ready to draw.
type spot struct {
	zone, side string
	shape      shape
}

func (p place) spots() []spot {
	s := p.shape
	left, right := spot{p.zone, "left", s}, spot{p.zone, "right", shape{s.inner, s.outer, -s.to, -s.from}}
	switch p.sides {
	case "LR":
		return []spot{left, right}
	case "M":
		return []spot{{p.zone, "middle", shape{s.inner, s.outer, -s.to, s.to}}}
	}
	middle := shape{s.inner, s.outer, -s.from, s.from}
	if s.to == 180 { // the place lies behind, so its middle is behind too
		left.shape.to, right.shape.from = 158, -158
		middle = shape{s.inner, s.outer, 158, 202}
	}
	return []spot{left, {p.zone, "middle", middle}, right}
}

// Drawable reports whether the map of an arch has a place for a zone on a side; what
// has none must be told in words.
func Drawable(arch, zone, side string) bool {
	for _, p := range arches[arch] {
		if p.zone != zone {
			continue
		}
		for _, s := range p.spots() {
			if s.side == side {
				return true
			}
		}
	}
	return false
}

// ZoneMap draws one arch seen as the dentist sees it, the patient's right at the left
// of the picture: the upper with its front on top, the lower with its front below.
// Each place carries its figure as number and as one of five steps of fill, the
// darkest for values near top, which both arches of a page should share. A value of
// NaN is hatched: too few to tell.
func ZoneMap(w *wording.Catalogue, arch string, zones []Zone, top float64, title string) string {
	found := map[[2]string]Zone{}
	for _, z := range zones {
		found[[2]string{z.Zone, z.Side}] = z
	}
	var b, labels strings.Builder
	svgHead(&b, "arch", mapWidth, mapHeight, title)
	for _, p := range arches[arch] {
		for _, s := range p.spots() {
			l := look{fill: `class="f0"`}
			if z, ok := found[[2]string{s.zone, s.side}]; ok {
				step := level(z.Value, top)
				l = look{`class="` + step + `"`, step + "-text", z.Name, z.Full, z.Text}
			}
			drawSpot(&b, &labels, arch, s, l)
		}
	}
	b.WriteString(labels.String())
	drawSides(w, &b, arch)
	return b.String()
}

// drawSides names the patient's sides and ends the picture.
func drawSides(w *wording.Catalogue, b *strings.Builder, arch string) {
	y := mapHeight - 6
	if arch == "lower" {
		y = 16
	}
	fmt.Fprintf(b, `<text class="side" x="4" y="%d">%s</text><text class="side" x="%d" y="%d" text-anchor="end">%s</text></svg>`, y, escape(w.Say("chart.right")), mapWidth-4, y, escape(w.Say("chart.left")))
}

// look is how a place is drawn: the attribute that fills it, the class of its text,
// and what it says; a place without a name has nothing to say.
type look struct{ fill, textClass, name, full, text string }

// drawSpot writes a place's shape, and its text apart: texts are drawn after all shapes, so
// that no neighbour covers a digit.
func drawSpot(b, labels *strings.Builder, arch string, s spot, l look) {
	fmt.Fprintf(b, `<path %s d="%s">`, l.fill, outline(arch, s.shape))
	if l.name != "" {
		fmt.Fprintf(b, `<title>%s: %s</title>`, escape(l.name), escape(l.full))
	}
	b.WriteString("</path>")
	if l.text != "" {
		x, y := position(arch, (s.shape.inner+s.shape.outer)/2, (s.shape.from+s.shape.to)/2)
		fmt.Fprintf(labels, `<text class="%s" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, l.textClass, x, y+4.5, escape(l.text))
	}
}

// level gives the class of fill: f0 for none, f1 to f5, fx for too few to tell.
func level(v, top float64) string {
	switch {
	case math.IsNaN(v):
		return "fx"
	case v <= 0 || top <= 0:
		return "f0"
	}
	return fmt.Sprintf("f%d", int(math.Min(5, math.Max(1, math.Ceil(5*v/top)))))
}

// position turns a share of the radius and an angle in degrees from the front
// towards the patient's left into the drawing's coordinates.
func position(arch string, r, degrees float64) (x, y float64) {
	a := degrees * math.Pi / 180
	x, y = mapWidth/2+radiusX*r*math.Sin(a), radiusY*r*math.Cos(a)
	if arch == "lower" {
		return x, mapHeight - 204 + y
	}
	return x, 204 - y
}

// outline is the path of a piece of a ring. A ring keeps its shares of the two radii, so
// its edges are arcs of ellipses; the lower is the mirror image and turns the other way.
func outline(arch string, s shape) string {
	point := func(r, degrees float64) string {
		x, y := position(arch, r, degrees)
		return short(x) + " " + short(y)
	}
	out, back := 1, 0
	if arch == "lower" {
		out, back = back, out
	}
	arc := func(r, degrees float64, sweep int) string {
		return fmt.Sprintf("A%s %s 0 0 %d %s", short(radiusX*r), short(radiusY*r), sweep, point(r, degrees))
	}
	return "M" + point(s.outer, s.from) + arc(s.outer, s.to, out) + "L" + point(s.inner, s.to) + arc(s.inner, s.from, back) + "Z"
}

// short writes a coordinate to a tenth, without an empty decimal.
func short(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }
