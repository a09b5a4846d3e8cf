package page

import (
	"math"
	"strconv"
	"strings"

	"afterfit/internal/review"
)

// Numbers are shown with as many decimals as their interval supports: none from a
// width of 5 up, one from 0.5 up, two below. Without an interval the size decides.
func decimals(e review.Estimate) int {
	if e.Low.Known() && e.High.Known() {
		return places(float64(e.High - e.Low))
	}
	return places(math.Abs(float64(e.Value)) / 2)
}

func places(width float64) int {
	switch {
	case width >= 5:
		return 0
	case width >= 0.5:
		return 1
	}
	return 2
}

// number writes a number as the language does, "–" where there is none.
func (w words) number(n review.Num, decimals int) string { return w.Number(float64(n), decimals) }

func (w words) count(n int64) string { return w.Count(n) }

// span is "141 to 147".
func (w words) span(low, high string) string {
	return w.Say("figure.range", "low", low, "high", high)
}

// figureOf is the value alone, percentages with their sign.
func (w words) figureOf(e review.Estimate) string {
	s := w.number(e.Value, decimals(e))
	if percent(e.Unit) {
		return w.Percent(s)
	}
	return s
}

func percent(unit string) bool { return strings.HasPrefix(unit, "%") }

// unitOf is the unit to write after the value; a percentage carries its own sign.
func (w words) unitOf(e review.Estimate) string {
	if percent(e.Unit) {
		return ""
	}
	return w.found(e.Unit)
}

// limits is "141 to 147", or "" without an interval.
func (w words) limits(e review.Estimate) string {
	if !e.Low.Known() || !e.High.Known() {
		return ""
	}
	d := decimals(e)
	return w.span(w.number(e.Low, d), w.number(e.High, d))
}

// level is "95% ", the interval's level as it stands before the word for it.
func (w words) level(e review.Estimate) string {
	if e.Level <= 0 || e.Level >= 1 {
		return ""
	}
	return w.Say("figure.level", "percent", w.Percent(w.Tick(math.Round(e.Level*1e6)/1e4)))
}

// interval is "95% interval 141 to 147", or that there is none.
func (w words) interval(e review.Estimate) string {
	if s := w.limits(e); s != "" {
		return w.Say("figure.interval", "level", w.level(e), "range", s)
	}
	return w.Say("figure.no_interval")
}

// short is "144 (141 to 147)", for beside a mark; too few shows as such.
func (w words) short(e review.Estimate) string {
	switch {
	case e.TooFew != "":
		return w.Say("figure.too_few")
	case !e.Value.Known():
		return w.Say("figure.none")
	case w.limits(e) == "":
		return w.figureOf(e)
	}
	return w.withLimits(e)
}

// withLimits is a figure with its limits behind it.
func (w words) withLimits(e review.Estimate) string {
	return w.Say("figure.with_limits", "figure", w.figureOf(e), "range", w.limits(e))
}

// full is a figure with its unit, interval and n.
func (w words) full(e review.Estimate) string {
	if e.TooFew != "" {
		return w.tooFew(e)
	}
	return w.Say("figure.full", "figure", w.figureOf(e)+w.unitAfter(e), "interval", w.interval(e), "n", e.N)
}

// cautionMark stands behind an interval in a table that has a caution; the table says
// under itself what it means.
const cautionMark = "†"

// marked puts the mark behind a cell's text where the figure in it has a caution.
func marked(s string, e review.Estimate) string {
	if len(e.Warnings) == 0 || s == "" || !told(e) {
		return s
	}
	return s + cautionMark
}

// told reports whether an estimate has a figure to show.
func told(e review.Estimate) bool { return e.TooFew == "" && e.Value.Known() }

// plain is an estimate's number for a chart: NaN where it is not to be shown.
func plain(e review.Estimate, n review.Num) float64 {
	if !told(e) || !n.Known() {
		return math.NaN()
	}
	return float64(n)
}

// yes is how a message is told to choose: "yes" or "no".
func yes(b bool) string { return map[bool]string{true: "yes", false: "no"}[b] }

// dashed turns the name of a hypothesis into the id of an element.
func dashed(id string) string { return strings.ReplaceAll(id, ".", "-") }

// joinNumbers lists numbers.
func joinNumbers(numbers []int) string {
	text := make([]string, len(numbers))
	for i, n := range numbers {
		text[i] = strconv.Itoa(n)
	}
	return strings.Join(text, ", ")
}
