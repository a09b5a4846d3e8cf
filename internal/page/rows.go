package page

import (
	"math"
	"slices"

	"afterfit/internal/chart"
)

// mostRows is how many rows a picture holds: more would lie over each other on a sheet.
const mostRows = 24

// fitRows leaves the highest and the lowest rows where there are more than a picture
// holds, highest first, and says so; rows without a figure go before any other.
func (w words) fitRows(rows []chart.Row) (fit []chart.Row, said string) {
	if len(rows) <= mostRows {
		return rows, ""
	}
	told := slices.DeleteFunc(slices.Clone(rows), func(r chart.Row) bool { return math.IsNaN(r.Value) })
	slices.SortStableFunc(told, func(a, b chart.Row) int {
		switch {
		case a.Value > b.Value:
			return -1
		case a.Value < b.Value:
			return 1
		}
		return 0
	})
	if n := len(told); n > mostRows {
		told = append(told[:mostRows/2:mostRows/2], told[n-mostRows/2:]...)
		return told, w.Say("rows.outermost", "high", mostRows/2, "low", mostRows/2, "all", len(rows))
	}
	return told, w.Say("rows.with_figure", "drawn", len(told), "all", len(rows))
}
