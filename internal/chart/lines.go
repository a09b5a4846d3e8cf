package chart

import (
	"fmt"
	"math"
	"strconv"
	"unicode/utf8"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"

	"afterfit/internal/wording"
)

// Step is one step of a curve: day since delivery, share in %, and its limits, NaN
// where unknown.
type Step struct {
	Day          int64
	Y, Low, High float64
}

// Curve is a step function with its name, which stands at the right edge.
type Curve struct {
	Name  string
	Steps []Step
	Kind  Kind // Rest is drawn dashed and grey, Part thin and dark
}

// Curves draws step functions of days with their bands. Top is the end of the upright
// axis in %, 0 for one that fits the values. It fails without a step.
func Curves(w *wording.Catalogue, curves []Curve, top float64, describe string) (Drawn, error) {
	line, area := charts.NewLine(), charts.NewCustom()
	across, up := newSpan(), newSpan()
	up.add(top)
	var tags []opts.CustomData
	for _, c := range curves {
		if len(c.Steps) == 0 {
			continue
		}
		data, band := make([]opts.LineData, len(c.Steps)), make([]opts.CustomData, 0, len(c.Steps))
		for i, s := range c.Steps {
			across.add(float64(s.Day))
			up.add(s.Y, s.High)
			data[i] = opts.LineData{Value: []any{s.Day, orNil(s.Y)}}
			if orNil(s.Low) != nil && orNil(s.High) != nil {
				band = append(band, opts.CustomData{Value: []any{s.Day, s.Low, s.High}})
			}
		}
		look := stroke(c.Kind)
		if len(band) > 0 {
			area.AddSeries(c.Name, band, drawing("band"), encode(0, []int{1, 2}), stepwise, func(s *charts.SingleSeries) { s.Color = look.Color })
		}
		line.AddSeries(c.Name, data, stepwise, charts.WithLineStyleOpts(look), charts.WithItemStyleOpts(opts.ItemStyle{Color: look.Color}), plain)
		tags = append(tags, tag(c))
	}
	if len(tags) == 0 {
		return Drawn{}, fmt.Errorf("curve without a step")
	}
	x := across.axisX(w.Say("chart.days"))
	x.Max = across.high // a curve ends where following ends, not at a round day
	if _, _, step := across.ends(); math.Mod(across.high, step) < step/2 {
		x.AxisLabel.ShowMaxLabel = opts.Bool(math.Mod(across.high, step) == 0) // the last day would touch the tick before it
	}
	area.AddSeries("tags", tags, drawing("tags"), encode(0, 1))
	line.Overlap(area)
	line.SetGlobalOptions(frame(describe, "axis", "day", x, up.axisY(), opts.Grid{Left: "44", Right: strconv.Itoa(tagRoom(curves)), Top: "24", Bottom: "52"})...)
	options, err := finish(line.Validate, line.JSON)
	return Drawn{options, lineHeight}, err
}

// tag is a curve's name with the look of its line; the drawing sets it at the right edge,
// at the height of the curve's last step, and keeps names apart.
func tag(c Curve) opts.CustomData {
	last, look := c.Steps[len(c.Steps)-1], stroke(c.Kind)
	return opts.CustomData{Name: c.Name, Value: []any{last.Day, orNil(last.Y), look.Color, look.Width, c.Kind == Rest}}
}

// tagRoom is the width that the longest name takes at the right edge, in CSS pixels.
func tagRoom(curves []Curve) int {
	longest := 0
	for _, c := range curves {
		longest = max(longest, utf8.RuneCountInString(c.Name))
	}
	return 34 + 9*longest
}

// Trend draws one figure over periods in the order given, with the area between its
// limits. It fails with fewer than two periods, which are no trend.
func Trend(points []Row, describe string) (Drawn, error) {
	if len(points) < 2 {
		return Drawn{}, fmt.Errorf("trend of %d periods", len(points))
	}
	names, data := make([]string, len(points)), make([]opts.LineData, len(points))
	var band []opts.CustomData
	up := newSpan()
	for i, p := range points {
		up.add(p.Value, p.High)
		names[i], data[i] = p.Name, opts.LineData{Name: p.Name, Value: orNil(p.Value)}
		if orNil(p.Low) != nil && orNil(p.High) != nil {
			band = append(band, opts.CustomData{Value: []any{i, p.Low, p.High}})
		}
	}
	line, area := charts.NewLine(), charts.NewCustom()
	line.SetXAxis(names)
	line.AddSeries("", data, charts.WithLineStyleOpts(stroke(Service)), charts.WithItemStyleOpts(opts.ItemStyle{Color: blue}),
		charts.WithLineChartOpts(opts.LineChart{Symbol: "circle", SymbolSize: 8, ShowSymbol: opts.Bool(true)}))
	if len(band) > 0 {
		area.AddSeries("band", band, drawing("band"), encode(0, []int{1, 2}))
	}
	line.Overlap(area)
	x := opts.XAxis{Type: "category", AxisLabel: &opts.AxisLabel{Show: opts.Bool(true), Color: "#444", HideOverlap: opts.Bool(true)}, AxisTick: &opts.AxisTick{Show: opts.Bool(false)}, AxisLine: zeroLine()}
	line.SetGlobalOptions(frame(describe, "item", "", x, up.axisY(), opts.Grid{Left: "44", Right: "14", Top: "14", Bottom: "30"})...)
	options, err := finish(line.Validate, line.JSON)
	return Drawn{options, trendHeight}, err
}

// blue and grey are the colours of "this service" and of everything else; the boot
// script and the stylesheet use the same.
const blue, grey = "#0072B2", "#6b6b6b"

func stroke(k Kind) opts.LineStyle {
	if k == Rest {
		return opts.LineStyle{Color: grey, Width: 2, Type: "dashed"}
	}
	if k == Part {
		return opts.LineStyle{Color: "#222", Width: 1.25, Type: "solid"}
	}
	return opts.LineStyle{Color: blue, Width: 2.5, Type: "solid"}
}

// stepwise holds a value until the next step, as survival curves do.
func stepwise(s *charts.SingleSeries) { s.Step = "end" }

// plain takes the dots off a line.
func plain(s *charts.SingleSeries) { s.ShowSymbol = opts.Bool(false) }
