// Package chart turns numbers into pictures: options for the chart library, built
// with go-echarts and never rendered by it, and inline SVG of our own. It computes
// nothing but scales and positions.
//
// Names reach a chart only as JSON strings or as escaped SVG text. Where the library
// wants a function, the options hold the name of a drawing that reports/script/boot.js
// registers.
package chart

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"github.com/go-echarts/go-echarts/v2/types"
)

// Kind says which job a mark has; it decides shape and colour together, so that the
// picture reads in grey.
type Kind string

// The kinds of mark.
const (
	Service Kind = "own"    // a filled disc: this service, or the reader
	Beyond  Kind = "beyond" // a diamond: the interval leaves out the line it is held against
	Part    Kind = "part"   // a thin dark line: a part of the service beside the whole
	Rest    Kind = "rest"   // an open ring with a dashed interval: not recorded, or no clear difference
)

// Row is one line of an interval picture. Value, Low and High share the axis' unit;
// NaN where there is none, and then Text says why.
type Row struct {
	Name             string
	Value, Low, High float64
	Text             string // the figure in words, drawn at the right
	Kind             Kind
}

// Rule is an upright line that the rows are held against.
type Rule struct {
	At   float64
	Name string
}

// Drawn is a finished chart: the library's options as JSON, safe inside a script
// element because <, > and & are escaped, and the height it wants in CSS pixels.
type Drawn struct {
	Options []byte
	Height  int
}

// Heights in CSS pixels.
const (
	rowHeight   = 46
	frameHeight = 84 // axis, its name and the rule's name
	lineHeight  = 300
	trendHeight = 220
)

// Rows draws one interval per row, the first on top, on an axis that holds zero.
// It fails without a row, or where no row has a value: an empty picture tells nothing.
func Rows(rows []Row, axis string, rule *Rule, describe string) (Drawn, error) {
	if len(rows) == 0 {
		return Drawn{}, fmt.Errorf("chart %q has no row", axis)
	}
	if !slices.ContainsFunc(rows, func(r Row) bool { return orNil(r.Value) != nil }) {
		return Drawn{}, fmt.Errorf("chart %q has no value", axis)
	}
	span := newSpan()
	data := make([]opts.CustomData, len(rows))
	for i, r := range rows {
		span.add(r.Value, r.Low, r.High)
		data[i] = opts.CustomData{Name: r.Name, Value: []any{i, orNil(r.Value), orNil(r.Low), orNil(r.High), r.Text, string(r.Kind)}}
	}
	c := charts.NewCustom()
	if rule != nil {
		span.add(rule.At)
		c.AddSeries("rule", []opts.CustomData{{Name: rule.Name, Value: []any{rule.At, 0}}}, drawing("rule"), encode(0, 1))
	}
	c.AddSeries("rows", data, drawing("rows"), encode([]int{1, 2, 3}, 0))
	x, y := span.axisX(axis), opts.YAxis{Type: "value", Inverse: opts.Bool(true), Min: -0.5, Max: float64(len(rows)) - 0.5,
		AxisLabel: &opts.AxisLabel{Show: opts.Bool(false)}, SplitLine: &opts.SplitLine{Show: opts.Bool(false)}, AxisLine: zeroLine()}
	c.SetGlobalOptions(frame(describe, "item", "item", x, y, opts.Grid{Left: "20", Right: "14", Top: "28", Bottom: "52"})...)
	options, err := finish(c.Validate, c.JSON)
	return Drawn{options, frameHeight + rowHeight*len(rows)}, err
}

// frame collects what every chart shares: the description for screen readers, the
// tooltip's name in the script's registry, both axes and the margins.
func frame(describe, trigger, tip string, x opts.XAxis, y opts.YAxis, grid opts.Grid) []charts.GlobalOpts {
	return []charts.GlobalOpts{
		charts.WithAriaOpts(&opts.Aria{Enabled: opts.Bool(true), Label: &opts.AriaLabel{Enabled: opts.Bool(true), Description: describe}}),
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: trigger, Formatter: types.FuncStr(tip)}),
		charts.WithXAxisOpts(x), charts.WithYAxisOpts(y), charts.WithGridOpts(grid),
	}
}

// finish validates and writes the options. json.Marshal sorts the keys, escapes
// what could end a script element, and refuses NaN.
func finish(validate func(), object func() map[string]any) ([]byte, error) {
	validate()
	b, err := json.Marshal(object())
	if err != nil {
		return nil, fmt.Errorf("chart options: %w", err)
	}
	return b, nil
}

// drawing names the drawing of the boot script that a custom series uses.
func drawing(name string) charts.SeriesOpts {
	return charts.WithCustomChartOpts(opts.CustomChart{RenderItem: types.FuncStr(name)})
}

func encode(x, y any) charts.SeriesOpts { return charts.WithEncodeOpts(opts.Encode{X: x, Y: y}) }

func zeroLine() *opts.AxisLine {
	return &opts.AxisLine{Show: opts.Bool(true), OnZero: opts.Bool(true), LineStyle: &opts.LineStyle{Color: "#222", Width: 1}}
}

func orNil(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}
