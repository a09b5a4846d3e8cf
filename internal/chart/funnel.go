package chart

import (
	"fmt"
	"math"
	"strings"

	"afterfit/internal/wording"
)

// FunnelDot is one unit: its size along the axis and its ratio. Flag is 0 inside, 1
// outside the near and 2 outside the far limits; Own marks the reader; a Name is
// written beside the point.
type FunnelDot struct {
	Size, Ratio float64
	Flag        int
	Own, Faint  bool
	Name        string
}

// FunnelLimit are the limits of the ratio at one size.
type FunnelLimit struct {
	Size, NearLow, NearHigh, FarLow, FarHigh float64
}

// DrawFunnel draws ratios over size between their limits, as SVG; "" without a limit.
// The upright axis is about 1, on a log scale, so that twice and half lie equally far.
func DrawFunnel(w *wording.Catalogue, dots []FunnelDot, limits []FunnelLimit, along, title string) string {
	if len(limits) < 2 {
		return ""
	}
	f := frameBox{w: 720, h: 380, left: 44, right: 56, top: 28, bottom: 44, lowX: limits[0].Size, highX: limits[len(limits)-1].Size}
	low, high := 0.9, 1/0.9
	widen := func(v float64) {
		if v > 0 && !math.IsInf(v, 0) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	for _, l := range limits {
		widen(math.Max(0.2, l.FarLow))
		widen(math.Min(5, l.FarHigh))
	}
	for _, d := range dots {
		widen(math.Max(0.1, d.Ratio))
	}
	f.lowY, f.highY = math.Log(low)-0.03, math.Log(high)+0.03
	var b strings.Builder
	svgHead(&b, "course", int(f.w), int(f.h), title)
	for _, v := range ratioTicks(low, high) {
		fmt.Fprintf(&b, `<line class="faint" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text class="tick" x="%.1f" y="%.1f" text-anchor="end">%s</text>`,
			f.left, f.w-f.right, f.y(math.Log(v)), f.y(math.Log(v)), f.left-6, f.y(math.Log(v))+4, escape(w.Tick(v)))
	}
	fmt.Fprintf(&b, `<text class="tick" x="0" y="12">%s</text><line class="zero" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, escape(w.Say("chart.times_expected")), f.left, f.w-f.right, f.y(0), f.y(0))
	size := newSpan()
	size.add(f.highX)
	for from, _, step := size.ends(); from <= f.highX; from += step {
		if from >= f.lowX {
			fmt.Fprintf(&b, `<text class="tick" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, f.x(from), f.h-24, escape(w.Tick(from)))
		}
	}
	fmt.Fprintf(&b, `<text class="tick" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, (f.left+f.w-f.right)/2, f.h-6, escape(along))
	for _, c := range []struct {
		class, name string
		of          func(FunnelLimit) (low, high float64)
	}{{"limit near", w.Percent("95"), func(l FunnelLimit) (float64, float64) { return l.NearLow, l.NearHigh }}, {"limit", w.Percent(w.Number(99.8, 1)), func(l FunnelLimit) (float64, float64) { return l.FarLow, l.FarHigh }}} {
		funnelLine(&b, f, limits, c.class, c.name, c.of)
	}
	for _, d := range dots {
		d.draw(&b, f)
	}
	b.WriteString("</svg>")
	return b.String()
}

func funnelLine(b *strings.Builder, f frameBox, limits []FunnelLimit, class, name string, of func(FunnelLimit) (low, high float64)) {
	var up, down strings.Builder
	top := f.y(f.highY)
	for _, l := range limits {
		low, high := of(l)
		for _, side := range []struct {
			into *strings.Builder
			v    float64
		}{{&down, low}, {&up, high}} {
			if side.v <= 0 || math.IsInf(side.v, 0) || math.Log(side.v) > f.highY || math.Log(side.v) < f.lowY {
				continue
			}
			pen := "L"
			if side.into.Len() == 0 {
				pen = "M"
			}
			fmt.Fprintf(side.into, "%s%.1f %.1f", pen, f.x(l.Size), f.y(math.Log(side.v)))
		}
	}
	_, high := of(limits[len(limits)-1])
	fmt.Fprintf(b, `<path class="%s" d="%s"/><path class="%s" d="%s"/>`, class, down.String(), class, up.String())
	if y := f.y(math.Log(high)); y > top {
		fmt.Fprintf(b, `<text class="tick" x="%.1f" y="%.1f">%s</text>`, f.w-f.right+4, y+4, escape(name))
	}
}

func (d FunnelDot) draw(b *strings.Builder, f frameBox) {
	if d.Ratio <= 0 || math.IsNaN(d.Ratio) {
		return
	}
	x, y := f.x(d.Size), f.y(math.Log(math.Max(0.1, d.Ratio)))
	switch {
	case d.Own:
		fmt.Fprintf(b, `<circle class="own" cx="%.1f" cy="%.1f" r="8"/>`, x, y)
	case d.Faint:
		fmt.Fprintf(b, `<circle class="rest" cx="%.1f" cy="%.1f" r="4"/>`, x, y)
	case d.Flag == 2:
		diamond(b, "beyond", x, y, 8)
	case d.Flag == 1:
		diamond(b, "beyond-near", x, y, 7)
	default:
		fmt.Fprintf(b, `<circle class="own" cx="%.1f" cy="%.1f" r="5"/>`, x, y)
	}
	if d.Name != "" {
		fmt.Fprintf(b, `<text class="halo%s" x="%.1f" y="%.1f" text-anchor="%s">%s</text>`, map[bool]string{true: " you"}[d.Own], x, y-11, anchor(x, f.w), escape(d.Name))
	}
}

// ratioTicks are handy ratios between two, 1 among them.
func ratioTicks(low, high float64) []float64 {
	all := []float64{0.1, 0.2, 0.33, 0.5, 0.67, 0.8, 0.9, 1, 1.1, 1.25, 1.5, 2, 3, 5}
	if high/low > 2.5 {
		all = []float64{0.1, 0.2, 0.33, 0.5, 0.67, 1, 1.5, 2, 3, 5}
	}
	var out []float64
	for _, v := range all {
		if v >= low && v <= high {
			out = append(out, v)
		}
	}
	return out
}
