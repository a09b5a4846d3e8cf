package mapping

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestDatesCountFromTheRecords(t *testing.T) {
	rows, out := turnVisits(t, `
[visits.columns]
visit_id = { join = ["Nr", "Tag"] }
case_id = { column = "Nr" }
day = { column = "Tag", day0 = "records" }
adjusted = { value = "yes" }
minutes = { column = "Min", unit = "h" }
`, "Nr;Tag;Min\nK1;11.03.2024;0,5\nK1;29.02.2025;1\nK9;1.3.2024;1\nK2;2024-05-01;0,33\n\n")
	// By hand: 1 March to 11 March is 10 days; 29 February 2025 is no day; K9 has no
	// records; the last date has another form, and 0.33 h are no whole minutes.
	assert.Equal(t, [][]string{
		{"K1-11.03.2024", "K1", "10", "yes", "30", "2", "", ""},
		{"K1-29.02.2025", "K1", "29.02.2025", "yes", "60", "3", "day", "no date of the form dd.mm.yyyy: correct it, or leave the cell empty"},
		{"K9-1.3.2024", "K9", "1.3.2024", "yes", "60", "4", "case_id", "no such row in cases: add it there or take this row out"},
		{"K2-2024-05-01", "K2", "2024-05-01", "yes", "0,33", "5", "day", "no date of the form dd.mm.yyyy: correct it, or leave the cell empty"},
	}, rows)
	assert.Equal(t, Balance{SheetID: SheetID{File: "visits.csv"}, Source: "visits", Rows: 6, Header: 1, Blank: 1, Used: 4, Columns: []string{},
		Uses: []Use{{Table: "visits", Turns: 1, Made: 4}}}, out.Balance[1])
}
