package page

import (
	"fmt"
	"math"
	"slices"

	"afterfit/internal/chart"
)

// mostRows is how many rows a picture holds: more would lie over each other on a sheet.
const mostRows = 24

// fitRows leaves the highest and the lowest rows where there are more than a picture
// holds, highest first, and says so; rows without a figure go before any other.
func fitRows(rows []chart.Row) (fit []chart.Row, said string) {
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
		return told, fmt.Sprintf("Drawn: the %d highest and the %d lowest of %d; the table has all. ", mostRows/2, mostRows/2, len(rows))
	}
	return told, fmt.Sprintf("Drawn: the %d of %d with a figure; the table has all. ", len(told), len(rows))
}
