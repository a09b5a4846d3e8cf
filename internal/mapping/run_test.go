package mapping

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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

// turned cuts the turned visits down to the columns from the third on.
func turned(rows [][]string, from, to int) (out [][]string) {
	for _, r := range rows {
		out = append(out, r[from:to])
	}
	return out
}

// TestDaysAndUnits: K1's records are on 1 March 2024, K2's on 15 April 2024; the
// expected days are counted by hand.
func TestDaysAndUnits(t *testing.T) {
	for _, c := range []struct {
		name, day, minutes, cells string
		want                      [][]string // day, minutes, problem
	}{
		{"weeks and hours", `{ column = "D", unit = "weeks" }`, `{ column = "M", unit = "h" }`, "K1;2;0,25\nK1;1,5 weeks;1 h\nK2;0;1,5", [][]string{{"14", "15", ""}, {"1,5 weeks", "60", "day"}, {"0", "90", ""}}},
		{"days with their unit", `{ column = "D", unit = "days" }`, `{ column = "M", unit = "min" }`, "K1;12 days;7 min\nK1;12,0;\nK1;x;y", [][]string{{"12", "7", ""}, {"12", "", ""}, {"x", "y", "day"}}},
		{"days since a date in the row", `{ column = "D", unit = "days", since = "M" }`, `{ value = "5" }`, "K1;3;11.03.2024\nK2;7;11.04.2024\nK1;3;", [][]string{{"13", "5", ""}, {"3", "5", ""}, {"3", "5", "day"}}},
		{"date with its own day 0", `{ column = "D", day0 = "M" }`, `{ value = "5" }`, "K1;11.03.2024;10.03.2024\nK9;11.03.2024;01.03.2023\nK1;11.03.2024;", [][]string{{"1", "5", ""}, {"376", "5", ""}, {"11.03.2024", "5", "day"}}},
		{"another form", `{ column = "D", date = "yyyy/mm/dd", day0 = "records" }`, `{ value = "5" }`, "K1;2024/3/2;\nK1;2024/03/02 08:30;\nK1;02.03.2024;", [][]string{{"1", "5", ""}, {"1", "5", ""}, {"02.03.2024", "5", "day"}}},
		{"default and first of", `{ column = "D", unit = "days", default = "9" }`, `{ first_of = [{ column = "M", unit = "min" }, { column = "D", unit = "h" }] }`, "K1;2;\nK1;;4\nK2;x;6", [][]string{{"2", "120", ""}, {"9", "4", ""}, {"x", "6", "day"}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			rows, _ := turnVisits(t, `[visits.columns]
visit_id = { join = ["Nr", "D"], with = "/" }
case_id = { column = "Nr" }
day = `+c.day+`
adjusted = { value = "yes" }
minutes = `+c.minutes+"\n", "Nr;D;M\n"+c.cells+"\n")
			var got [][]string
			for _, r := range rows {
				got = append(got, []string{r[2], r[4], r[6]})
			}
			assert.Equal(t, c.want, got)
		})
	}
}

func TestSidewaysFiltersAndRepeats(t *testing.T) {
	rows, out := turnVisits(t, `where = [{ column = "Kind", is = ["visit", "recall"] }, { column = "Done {n}", filled = true }]
each = ["1..2", "last"]
[visits.columns]
visit_id = { join = ["Nr", "{n}"] }
case_id = { column = "Nr", letters = "upper" }
day = { column = "Day {n}", unit = "days" }
adjusted = { column = "Done {n}", codes = "done" }
complaints = { value = "{n}", codes = "turn" }
[codes.done]
J = "yes"
"*" = "no"
[codes.turn]
1 = "sore"
2 = "loose"
last = "other"
`, "Visits of June;;;;;;;\n;;;;;;;\nNr;Kind;Day 1;Done 1;Day 2;Done 2;day LAST;done  last\nk1;VISIT;3;j;;;9;x\nNr;Kind;Day 1;Done 1;Day 2;Done 2;day LAST;done  last\nk2;Call;3;j;;;;\nk2;Recall;;;5;;;\n")
	assert.Equal(t, [][]string{
		{"k1-1", "K1", "3", "yes", "sore", "4", "", ""},
		{"k1-last", "K1", "9", "no", "other", "4", "", ""},
	}, rows)
	b := out.Balance[1]
	assert.True(t, b.Holds())
	// By hand: 3 data rows x 3 turns = 9 = 2 made, 5 empty (k1 once, k2 four times), 2 filtered.
	assert.Equal(t, Balance{SheetID: SheetID{File: "visits.csv"}, Source: "visits", Rows: 7, Title: 1, Header: 2, Blank: 1, Used: 1, LeftOut: 2, Columns: []string{},
		Uses: []Use{{Table: "visits", Turns: 3, Made: 2, Empty: 5, Filtered: 2}}}, b)
}

func TestListsCodesAndWordsForNothing(t *testing.T) {
	rows, out := turnVisits(t, `[visits.columns]
visit_id = { column = "Nr#2" }
case_id = { column = "Nr" }
day = { column = "Day", unit = "days" }
arch = { column = "Jaw" }
adjusted = { value = "no" }
complaints = { column = "Complaints", split = ",", codes = "complaints" }
[codes.complaints]
pain = "sore"
"Too Loose" = "loose"
`, "Nr;Nr;Day;Jaw;Complaints\nK1;V1;1;Upper;Pain, too  loose\nK1;V2;2;;pain,,bite\nK1;V3;3;both;pain,itch\nK2;V4;4;LOWER;\n")
	assert.Equal(t, [][]string{{"1", "upper", "no", "sore|loose"}, {"2", "", "no", "sore|bite"}, {"3", "both", "no", "pain,itch"}, {"4", "lower", "no", ""}}, turned(rows, 2, 6))
	assert.Equal(t, "complaints", rows[2][7])
	assert.Contains(t, rows[2][8], "a word that the mapping has no code for (in 1 row): add it to [codes.complaints] in small.toml")
	assert.Equal(t, []UnknownCode{{Table: "visits", Column: "complaints", Word: "pain,itch", Rows: 1}}, out.Unknown)
	assert.Equal(t, []string{}, out.Balance[1].Columns)
}

// TestPeriods: what stays of a date is what the mapping keeps.
func TestPeriods(t *testing.T) {
	for _, c := range []struct{ spec, cell, want string }{
		{`{ column = "Start", keep = "year" }`, "09.11.2024", "2024"},
		{`{ column = "Start", keep = "quarter" }`, "09.11.2024", "2024-Q4"},
		{`{ column = "Start", keep = "month" }`, "9.1.2024", "2024-01"},
		{`{ column = "Start", keep = "day" }`, "09.11.2024", "2024-11-09"},
		{`{ column = "Start", date = "Qq yyyy" }`, "q3 2024", "2024-Q3"},
		{`{ column = "Start", date = "yyyy-Qq", keep = "year" }`, "2024-Q3", "2024"},
		{`{ column = "Start", date = "mm/yyyy" }`, "3/2024", "2024-03"},
		{`{ column = "Start", date = "yyyy" }`, "2024", "2024"},
		{`{ column = "Start", date = "dd.mm.yy", keep = "month" }`, "09.11.24", "2024-11"},
		{`{ column = "Start", keep = "month" }`, "09.13.2024", "09.13.2024"},
	} {
		text := strings.Replace(small, `{ column = "Start", keep = "month" }`, c.spec, 1)
		text = strings.Replace(text, `{ column = "Ende", day0 = "records" }`, `{ value = "10" }`, 1)
		text, _, _ = strings.Cut(text, "[[visits]]")
		text = strings.Replace(strings.Replace(text, `"remakes"]`, `"remakes", "visits"]`, 1), "[sources.visits]\nfile = \"visits.csv\"\n", "", 1)
		m, err := Parse("small.toml", []byte(text))
		require.NoError(t, err, c.spec)
		out, err := Run(context.Background(), conn(t), m, map[string][]Grid{"cases": {gridOf(t, "cases.csv", "Nr;Pat;Start\nK1;P1;"+c.cell+"\n")}}, nil, t.TempDir(), Hooks{})
		require.NoError(t, err)
		row := readTable(t, out, "cases")[0]
		assert.Equal(t, c.want, row[4], c.spec)
		assert.Equal(t, c.want == c.cell && strings.Contains(c.cell, "."), row[7] == "records_on", "%s: set aside or not", c.spec)
	}
}

// TestLengths: 2.5 in are 63.5 mm by definition of the inch; millimetres keep what
// was written, so that the contract's own rule judges it.
func TestLengths(t *testing.T) {
	for _, c := range []struct{ unit, cell, want, problem string }{
		{"in", "2,5", "63.5", ""}, {"in", "0,5906", "15", ""}, {"in", "0,3543", "9", ""}, {"cm", "6,15", "61.5", ""}, {"cm", "6,1505", "61.51", ""},
		{"mm", "61,505", "61.505", ""}, {"mm", "61,50", "61.5", ""}, {"mm", "60 mm", "60", ""}, {"mm", "60 cm", "60 cm", "vdo_mm"}, {"mm", "61.5", "61.5", "vdo_mm"},
		{"mm", "-0", "0", ""}, {"mm", "1.234,5", "1.234,5", "vdo_mm"}, {"mm", "NaN", "NaN", "vdo_mm"}, {"mm", "1e2", "1e2", "vdo_mm"}, {"cm", "", "", ""}, {"mm", "-", "", ""},
	} {
		text := strings.Replace(strings.Replace(small+goodVisits, `"records", "readings"`, `"readings"`, 1), `decimal = ","`, "decimal = \",\"\nempty = [\"-\"]", 1) +
			"[[records]]\nfrom = \"cases\"\n[records.columns]\ncase_id = { column = \"Nr\" }\nvdo_mm = { column = \"H\", unit = \"" + c.unit + "\" }\n"
		m, err := Parse("small.toml", []byte(text))
		require.NoError(t, err)
		out, err := Run(context.Background(), conn(t), m, map[string][]Grid{
			"cases":  {gridOf(t, "cases.csv", "Nr;Pat;Start;Ende;H\nK1;P1;01.03.2024;01.03.2025;"+c.cell+"\n")},
			"visits": {gridOf(t, "visits.csv", "Nr;Tag\n")}}, []Grid{gridOf(t, "notes.csv", "a;b\n1;2\n")}, t.TempDir(), Hooks{})
		require.NoError(t, err)
		row := readTable(t, out, "records")[0]
		assert.Equal(t, []string{c.want, c.problem}, []string{row[1], row[3]}, "%s %s", c.cell, c.unit)
		assert.Equal(t, Balance{SheetID: SheetID{File: "notes.csv"}, Rows: 2, NotMapped: 2, Uses: []Use{}, Columns: []string{}}, out.Balance[2])
	}
}

// TestSinceDelivery: a day counted from the delivery of the same arch.
func TestSinceDelivery(t *testing.T) {
	text := strings.Replace(small, `"dentures", `, "", 1) + `[visits.columns]
visit_id = { join = ["Nr", "Arch"] }
case_id = { column = "Nr" }
day = { column = "Weeks", unit = "weeks", since = "delivery" }
arch = { column = "Arch" }
adjusted = { value = "yes" }
[[dentures]]
from = "visits"
[dentures.columns]
case_id = { column = "Nr" }
arch = { column = "Arch" }
delivered_day = { column = "Delivered", day0 = "records" }
`
	m, err := Parse("small.toml", []byte(text))
	require.NoError(t, err)
	out, err := Run(context.Background(), conn(t), m, map[string][]Grid{"cases": {gridOf(t, "cases.csv", smallCases)},
		"visits": {gridOf(t, "visits.csv", "Nr;Arch;Delivered;Weeks\nK1;upper;11.03.2024;2\nK1;lower;12.03.2024;2\nK2;upper;;1\n")}}, nil, t.TempDir(), Hooks{})
	require.NoError(t, err)
	rows := readTable(t, out, "visits")
	assert.Equal(t, []string{"24", "25", "1"}, []string{rows[0][2], rows[1][2], rows[2][2]}, "10 + 14 and 11 + 14 days; K2 is not delivered")
	assert.Equal(t, []string{"", "", "day"}, []string{rows[0][6], rows[1][6], rows[2][6]})
	assert.Contains(t, rows[2][7], "counted from the delivery of this denture, which has no day")
}

// TestAReturnInTheFirstLineEndsNothing: DuckDB must not take a return inside the first
// cells for the end of a line.
func TestAReturnInTheFirstLineEndsNothing(t *testing.T) {
	m, err := Parse("small.toml", []byte(small+goodVisits))
	require.NoError(t, err)
	for _, first := range []string{"Report\rof June\n", "Report\r\n", "a\rb;c\r;d\n"} {
		out, err := Run(context.Background(), conn(t), m, map[string][]Grid{"cases": {gridOf(t, "cases.csv", first+smallCases)}, "visits": {gridOf(t, "visits.csv", first+"Nr;Tag\nK1;02.03.2024\n")}}, nil, t.TempDir(), Hooks{})
		require.NoError(t, err, "%q", first)
		assert.Len(t, readTable(t, out, "visits"), 1, "%q", first)
	}
}

func TestSeveralFilesOfOneKind(t *testing.T) {
	m, err := Parse("small.toml", []byte(strings.Replace(small+goodVisits, `file = "visits.csv"`, "file = \"visits*.csv\"\nmany = true", 1)))
	require.NoError(t, err)
	chosen, err := m.Choose([]SheetID{{File: "cases.csv"}, {File: "in/Visits 2.csv"}, {File: "other.csv"}, {File: "visits.csv"}})
	require.NoError(t, err)
	assert.Equal(t, map[string][]int{"cases": {0}, "visits": {1, 3}}, chosen)
	out, err := Run(context.Background(), conn(t), m, map[string][]Grid{"cases": {gridOf(t, "cases.csv", smallCases)},
		"visits": {gridOf(t, "a.csv", "Nr;Tag\nK1;02.03.2024\n"), gridOf(t, "b.csv", "title\nTag;Nr;More\n03.03.2024;K1;x\n")}}, nil, t.TempDir(), Hooks{})
	require.NoError(t, err)
	rows := readTable(t, out, "visits")
	assert.Equal(t, [][]string{{"1", "yes", "2"}, {"2", "yes", "3"}}, turned(rows, 2, 5), "columns by their words, lines of their own file")
	assert.Equal(t, []string{"More"}, out.Balance[2].Columns)
}

// TestBalanceNotices: an account that does not add up is no account.
func TestBalanceNotices(t *testing.T) {
	good := Balance{Rows: 9, Title: 1, Header: 1, Blank: 1, Total: 1, Used: 3, LeftOut: 1, NotMapped: 1, Uses: []Use{{Turns: 2, Made: 5, Empty: 2, Filtered: 1}}}
	assert.True(t, good.Holds())
	lost := good
	lost.Rows++
	assert.False(t, lost.Holds())
	lost = good
	lost.Uses = []Use{{Turns: 2, Made: 4, Empty: 2, Filtered: 1}}
	assert.False(t, lost.Holds())
}

// TestHostileWordsStayWords: quotes and SQL in an export's words change nothing.
func TestHostileWordsStayWords(t *testing.T) {
	rows, _ := turnVisits(t, `[visits.columns]
visit_id = { column = "Nr') OR true --" }
case_id = { column = "Nr" }
day = { column = "\"D'", unit = "days" }
arch = { column = "J", codes = "j" }
adjusted = { value = "yes" }
[codes.j]
"o'k\\" = "upper"
`, "Nr;Nr') OR true --;\"D';J\nK1;V'1;3;O'K\\\n")
	assert.Equal(t, [][]string{{"V'1", "K1", "3", "upper", "yes", "2", "", ""}}, rows)
}
