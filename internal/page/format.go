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

// number writes a number with a comma between thousands and a true minus sign, "–"
// where there is none. A value that rounds to zero has no sign.
func number(n review.Num, decimals int) string {
	if !n.Known() {
		return "–"
	}
	s := strconv.FormatFloat(math.Abs(float64(n)), 'f', decimals, 64)
	whole, part, _ := strings.Cut(s, ".")
	whole = grouped(whole)
	if part != "" {
		whole += "." + part
	}
	if n < 0 && strings.Trim(s, "0.") != "" {
		return "−" + whole
	}
	return whole
}

func grouped(digits string) string {
	for i := len(digits) - 3; i > 0; i -= 3 {
		digits = digits[:i] + "," + digits[i:]
	}
	return digits
}

func count(n int64) string { return number(review.Num(n), 0) }

// figureOf is the value alone, percentages with their sign.
func figureOf(e review.Estimate) string {
	s := number(e.Value, decimals(e))
	if percent(e.Unit) {
		return s + "%"
	}
	return s
}

func percent(unit string) bool { return strings.HasPrefix(unit, "%") }

// unitOf is the unit to write after the value; a percentage carries its own sign.
func unitOf(e review.Estimate) string {
	if percent(e.Unit) {
		return ""
	}
	return e.Unit
}

// limits is "141 to 147", or "" without an interval.
func limits(e review.Estimate) string {
	if !e.Low.Known() || !e.High.Known() {
		return ""
	}
	d := decimals(e)
	return number(e.Low, d) + " to " + number(e.High, d)
}

// level is "95%", the interval's level.
func level(e review.Estimate) string {
	if e.Level <= 0 || e.Level >= 1 {
		return ""
	}
	return strconv.FormatFloat(math.Round(e.Level*1e6)/1e4, 'f', -1, 64) + "% "
}

// interval is "95% interval 141 to 147", or that there is none.
func interval(e review.Estimate) string {
	if s := limits(e); s != "" {
		return level(e) + "interval " + s
	}
	return "no interval"
}

// short is "144 (141 to 147)", for beside a mark; too few shows as such.
func short(e review.Estimate) string {
	switch {
	case e.TooFew != "":
		return "too few to tell"
	case !e.Value.Known():
		return "no figure"
	case limits(e) == "":
		return figureOf(e)
	}
	return figureOf(e) + " (" + limits(e) + ")"
}

// full is a figure with its unit, interval and n.
func full(e review.Estimate) string {
	if e.TooFew != "" {
		return strings.TrimSuffix(e.TooFew, ".")
	}
	s := figureOf(e)
	if u := unitOf(e); u != "" {
		s += " " + u
	}
	return s + " (" + interval(e) + "; n = " + count(e.N) + ")"
}

// cautionMark stands behind an interval in a table that has a caution; cautionText says
// under the table what it means.
const (
	cautionMark = "†"
	cautionText = "† Few events or few patients: the interval may be wider or narrower than its level says. “afterfit ask” gives the reason for each."
)

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

// dashed turns the name of a hypothesis into the id of an element.
func dashed(id string) string { return strings.ReplaceAll(id, ".", "-") }
