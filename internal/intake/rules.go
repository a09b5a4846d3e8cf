package intake

import (
	"fmt"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/mapping"
	"afterfit/internal/store"
)

// rule is one way in which a cell can be wrong: an SQL condition and what a reader
// is told. The condition may be NULL, which counts as not wrong. A finer rule only
// says better what a coarse rule finds wrong too; sound rows never meet it.
type rule struct {
	column, when, reason string
	finer                bool
}

// serialDay stands in a reason for the day that a spreadsheet's number means.
const serialDay = "{day}"

// dayOf is the SQL of that day: spreadsheets count days from the end of 1899.
func dayOf(x string) string {
	return "strftime(DATE '1899-12-30' + CAST(floor(TRY_CAST(" + x + " AS DOUBLE)) AS INTEGER), '%Y-%m-%d')"
}

// full is the SQL that asks whether the whole of x matches a pattern. Casts are
// guarded by it because DuckDB's TRY_CAST takes '12.7', '1_000', '0x1F', ' 12 '
// and 'NaN' for numbers.
func full(x, pattern string) string {
	return fmt.Sprintf("regexp_full_match(%s, %s)", x, store.Quote(pattern))
}

const (
	lengthPattern = `-?\d{1,3}(\.\d{1,2})?`
	wholePattern  = `-?\d{1,6}`
	periodPattern = `(19|20)\d{2}(-Q[1-4]|-(0[1-9]|1[0-2])(-\d{2})?)?`
	serialPattern = `[1-5]\d{4}(\.\d+)?`
	textLimit     = 200
)

// cellRules lists what can be wrong with a column's cells, in the order in which
// it is looked for.
func cellRules(c bundle.Column) []rule {
	x := raw(c.Name)
	add := func(when, reason string) rule { return rule{column: c.Name, when: when, reason: reason} }
	finer := func(when, reason string) rule { return rule{c.Name, when, reason, c.Kind != bundle.Text} }
	rules := []rule{
		finer("trim("+x+") = ''", "holds only blanks: leave the cell empty"),
		finer(x+" <> trim("+x+")", "blanks around the value: take them out"),
		finer(fmt.Sprintf("regexp_matches(%s, '[\\x00-\\x1f\\x7f]')", x), "a line break or control character in the cell: take it out"),
	}
	if c.Required {
		rules = append([]rule{add(x+" IS NULL", "empty, but the column is required: fill it in")}, rules...)
	}
	switch c.Kind {
	case bundle.Text:
		return append(rules, add(fmt.Sprintf("length(%s) > %d", x, textLimit), fmt.Sprintf("longer than %d characters: use a short code", textLimit)))
	case bundle.Code:
		return append(rules, codeRules(c, x)...)
	case bundle.Codes:
		return append(rules, codesRules(c, x)...)
	case bundle.Period:
		return append(rules,
			finer(full(x, serialPattern), "a spreadsheet's number of the day "+serialDay+": write the period, YYYY, YYYY-Qn, YYYY-MM or YYYY-MM-DD, or give the column the format of a date and export again"),
			add("NOT "+full(x, periodPattern), "no period: write YYYY, YYYY-Qn, YYYY-MM or YYYY-MM-DD"),
			add("length("+x+") = 10 AND try_strptime("+x+", '%Y-%m-%d') IS NULL", "no day of the calendar: write an existing date"))
	case bundle.AgeBand:
		ages := "TRY_CAST(" + x + " AS INTEGER)"
		return append(rules, add(fmt.Sprintf("%s AND NOT (%s AND %s <= 130)", notIn(x, c.Codes), full(x, `\d{1,3}`), ages),
			"no age or age band: use "+strings.Join(c.Codes, ", ")+" or a whole age in years"))
	}
	return append(rules, numberRules(c, x)...)
}

func notIn(x string, codes []string) string { return x + " NOT IN (" + literals(codes) + ")" }

func literals(codes []string) string {
	quoted := make([]string, len(codes))
	for i, c := range codes {
		quoted[i] = store.Quote(c)
	}
	return strings.Join(quoted, ", ")
}

func codeRules(c bundle.Column, x string) []rule {
	all := strings.Join(c.Codes, ", ")
	return []rule{
		{c.Name, notIn(x, c.Codes) + " AND lower(" + x + ") IN (" + literals(c.Codes) + ")", "a code in capitals: write it in lower case", true},
		{c.Name, notIn(x, c.Codes), "no code of this column: use " + all, false},
	}
}

// codesRules asks the costly questions only of cells that are no single code.
func codesRules(c bundle.Column, x string) []rule {
	one := "(" + strings.Join(c.Codes, "|") + ")"
	several := notIn(x, c.Codes) + " AND "
	return []rule{
		{c.Name, several + "NOT " + full(x, one+`(\|`+one+`)*`), "no list of codes: join codes of this column by | (" + strings.Join(c.Codes, ", ") + ")", false},
		{c.Name, several + "len(list_distinct(str_split(" + x + ", '|'))) <> len(str_split(" + x + ", '|'))", "the same code twice in the list: name it once", false},
		{c.Name, several + "list_contains(str_split(" + x + ", '|'), 'none')", "none beside other codes: none stands alone", false},
	}
}

// numberRules looks for what people write instead of a number, each with its own
// advice, then for the hard range.
func numberRules(c bundle.Column, x string) []rule {
	pattern, unit := wholePattern, "a whole number"
	if c.Kind == bundle.Length {
		pattern, unit = lengthPattern, "millimetres with a point and at most two decimals"
	}
	not := "NOT " + full(x, pattern) + " AND "
	wrong := func(odd, reason string) rule { return rule{c.Name, not + full(x, odd), reason, true} }
	rules := []rule{
		wrong(`(?i)[+-]?(nan|inf|infinity|n/?a|null|none|-+)`, "no number: leave the cell empty when nothing was recorded"),
		wrong(`[+-]?\d+,\d*`, "a decimal comma: write "+unit),
		wrong(`[+-]?[\d.]+[eE][+-]?\d+`, "a number with an exponent: write "+unit),
		wrong(`0[xX][0-9a-fA-F]+`, "a hexadecimal number: write "+unit),
		wrong(`\d+(_\d+)+`, "an underscore in a number: write "+unit),
		wrong(`\d{4}[-/.]\d{1,2}[-/.]\d{1,2}.*|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}`, "a calendar date: write whole days counted from the records (day 0)"),
		wrong(`\d+\.\d*\.[\d.]*`, "two decimal points: write "+unit),
		wrong(`[+-]?\d+(\.\d+)? ?[A-Za-z"']+`, "a unit in the cell: write the number alone, in "+unit),
		wrong(`-?\d{1,6}\.\d+`, "more decimals than the column takes: write "+unit),
		wrong(`-?\d+(\.\d{1,2})?`, "a number too large for the column: check it; write "+unit),
		{c.Name, "NOT " + full(x, pattern), "no number: write " + unit, false},
	}
	if c.Hard != nil {
		rules = append(rules, rule{c.Name, outside(typed(c), *c.Hard), rangeReason(*c.Hard, c.Unit), false})
	}
	return rules
}

// outside is the SQL that asks whether a value lies outside a range.
func outside(x string, r bundle.Range) string {
	return fmt.Sprintf("%s NOT BETWEEN %g AND %g", x, r.Min, r.Max)
}

func rangeReason(r bundle.Range, unit string) string {
	return strings.TrimSpace(fmt.Sprintf("outside %g to %g %s", r.Min, r.Max, unit)) + ": check the chart and correct it"
}

// rowRules lists what can be wrong between the cells of one row.
func rowRules(t bundle.Table) []rule {
	switch t.Name {
	case "trays":
		lo, hi := "TRY_CAST("+raw("clearance_min_mm")+" AS DECIMAL(6,2))", "TRY_CAST("+raw("clearance_max_mm")+" AS DECIMAL(6,2))"
		return []rule{{"clearance_max_mm", hi + " < " + lo, "less than clearance_min_mm: exchange or correct the two", false}}
	case "sore_spots":
		var rules []rule
		for _, arch := range []string{"upper", "lower"} {
			zones := bundle.Zones(arch)
			rules = append(rules, rule{"zone", raw("arch") + " = " + store.Quote(arch) + " AND " + notIn(raw("zone"), zones),
				"no zone of the " + arch + " arch: use " + strings.Join(zones, ", "), false})
		}
		return rules
	case "readings":
		var rules []rule
		measure, _ := t.Column("measure")
		value, _ := t.Column("value_mm")
		for _, m := range measure.Codes {
			hard, _ := bundle.MeasureRanges(m)
			rules = append(rules, rule{"value_mm", raw("measure") + " = " + store.Quote(m) + " AND " + outside(typed(value), *hard), rangeReason(*hard, "mm") + " (" + m + ")", false})
		}
		return rules
	}
	return nil
}

// raw names a column as read.
func raw(column string) string { return "r." + column }

// typed is the SQL that turns a column as read into its type; NULL where a rule
// has already found it wrong.
func typed(c bundle.Column) string {
	x := raw(c.Name)
	switch c.Kind {
	case bundle.Int, bundle.Day, bundle.Length:
		return "TRY_CAST(" + x + " AS " + store.SQLType(c.Kind) + ")"
	case bundle.AgeBand:
		return banded(x, c.Codes)
	}
	return x
}

// banded writes an age as its band and leaves a band as it is; what holds a band
// already, as most cells do, is not first tried as a number.
func banded(x string, bands []string) string {
	return "CASE WHEN " + x + " IN (" + literals(bands) + ") THEN " + x + " ELSE " + mapping.BandSQL("TRY_CAST("+x+" AS INTEGER)", x) + " END"
}
