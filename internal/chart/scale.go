package chart

import (
	"math"

	"github.com/go-echarts/go-echarts/v2/opts"
)

// span is the range of the values on an axis; it always holds zero, because a bar
// or a distance that starts elsewhere misleads.
type span struct{ low, high float64 }

func newSpan() *span { return &span{} }

// add widens the span; values that are no number are passed over.
func (s *span) add(values ...float64) {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		s.low, s.high = math.Min(s.low, v), math.Max(s.high, v)
	}
}

// ends returns round ends of the axis and the distance between its ticks: 1, 2 or 5
// times a power of ten, about five of them.
func (s *span) ends() (low, high, step float64) {
	width := s.high - s.low
	if width <= 0 {
		return 0, 1, 0.5
	}
	power := math.Pow(10, math.Floor(math.Log10(width/5)))
	step = power
	for _, m := range []float64{1, 2, 5, 10} {
		step = m * power
		if width/step <= 6 {
			break
		}
	}
	return math.Floor(s.low/step+1e-9) * step, math.Ceil(s.high/step-1e-9) * step, step
}

func (s *span) axisX(name string) opts.XAxis {
	low, high, step := s.ends()
	return opts.XAxis{Type: "value", Name: name, NameLocation: "middle", NameGap: 28, Min: low, Max: high, MinInterval: step, MaxInterval: step,
		AxisLabel: &opts.AxisLabel{Show: opts.Bool(true), Color: "#444", HideOverlap: opts.Bool(true)}, SplitLine: faint(),
		AxisLine: &opts.AxisLine{Show: opts.Bool(false), OnZero: opts.Bool(false)}}
}

func (s *span) axisY() opts.YAxis {
	low, high, step := s.ends()
	return opts.YAxis{Type: "value", Min: low, Max: high, MinInterval: step, MaxInterval: step,
		AxisLabel: &opts.AxisLabel{Show: opts.Bool(true), Color: "#444"}, SplitLine: faint(), AxisLine: &opts.AxisLine{Show: opts.Bool(false)}}
}

func faint() *opts.SplitLine {
	return &opts.SplitLine{Show: opts.Bool(true), LineStyle: &opts.LineStyle{Color: "#e3e3e3", Width: 1}}
}
