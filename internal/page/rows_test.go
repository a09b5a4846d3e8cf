package page

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"

	"afterfit/internal/chart"
)

// Of more rows than a picture holds, the outermost are drawn, in order, and the caption
// says how many there are.
func TestFitRowsKeepsTheOutermost(t *testing.T) {
	var rows []chart.Row
	for i := range 60 {
		rows = append(rows, chart.Row{Name: strconv.Itoa(i), Value: float64(i * 7 % 60)})
	}
	rows[3].Value = math.NaN() // would have been 21
	fit, said := english.fitRows(rows)
	assert.Len(t, fit, mostRows)
	assert.Equal(t, "Drawn: the 12 highest and the 12 lowest of 60; the table has all.", said)
	assert.InDelta(t, 59, fit[0].Value, 0)
	assert.InDelta(t, 48, fit[11].Value, 0)
	assert.InDelta(t, 11, fit[12].Value, 0)
	assert.InDelta(t, 0, fit[23].Value, 0)
	all, said := english.fitRows(rows[:mostRows])
	assert.Equal(t, 24, len(all))
	assert.Empty(t, said)
	assert.Equal(t, "0", all[0].Name, "few rows stay in their order")
}
