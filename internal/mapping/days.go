package mapping

import (
	"fmt"
	"strings"

	"afterfit/internal/bundle"
)

// date is the SQL of the date in x, NULL where it has another form or is no day
// of the calendar. A file with dates of its own may hold them as yyyy-mm-dd.
func (t *turner) date(x string, f *form) string {
	d := fmt.Sprintf("CASE WHEN %s THEN CAST(try_strptime(regexp_extract(%s, %s, 1), %s) AS DATE) END",
		whole(x, f.pattern), x, lit("^"+f.pattern+"$"), lit(f.strptime))
	if !t.native || f.text == isoDate {
		return d
	}
	iso, err := parseForm(isoDate)
	if err != nil {
		return d
	}
	plain := *t
	plain.native = false
	return "coalesce(" + d + ", " + plain.date(x, iso) + ")"
}

const isoDate = "yyyy-mm-dd"

// day turns a date or a number into days from the records.
func (t *turner) day(c *cell, col bundle.Column, spec Column) {
	c.plain, c.mode = false, t.m.dayMode(t.src, col, spec)
	form := t.m.formOf(t.src, spec)
	if spec.Unit == "" {
		d := t.date(c.src, form)
		c.val, c.reason = d, noDate(form)
		if c.mode == asIs {
			c.val = fmt.Sprintf("CAST(date_diff('day', %s, %s) AS VARCHAR)", t.date(t.ref(t.set(spec.Day0)), form), d)
			c.reason += ", or no such date in " + spec.Day0
		}
		t.hide(c)
		return
	}
	n := t.wholeNumber(c.src, spec.Unit)
	c.reason = "no whole number of " + spec.Unit + ": correct it, or leave the cell empty"
	switch c.mode {
	case dateToDay:
		c.val = fmt.Sprintf("CAST(%s + CAST(%s AS INTEGER) AS DATE)", t.date(t.ref(t.set(spec.Since)), form), n)
		c.reason += "; it is counted from " + spec.Since
	case afterDeliver:
		c.val = n
	default:
		c.val = "CAST(" + n + " AS VARCHAR)"
	}
}

// birth turns a date or a year of birth into the age band on the day of the
// records, which stands in the same row. A year alone gives the age of that
// calendar year, at most one year too high.
func (t *turner) birth(c *cell, spec Column) {
	f, err := parseForm(spec.Date)
	rf := t.m.formOf(t.src, t.records)
	if err != nil || rf == nil {
		return
	}
	born, day0 := t.date(c.src, f), t.date(t.ref(t.set(t.records.Column)), rf)
	age := fmt.Sprintf("datesub('year', %s, %s)", born, day0)
	if !f.month {
		age = fmt.Sprintf("date_diff('year', %s, %s)", born, day0)
	}
	c.val = BandSQL(age, "CAST(NULL AS VARCHAR)")
	c.plain, c.reason = false, "no birth of the form "+f.text+" from which an age at the records follows: correct it, or leave the cell empty"
	t.hide(c)
}

// maxAge is the highest age that counts as one.
const maxAge = 130

// BandSQL writes bundle.Band as SQL: one branch for each run of ages with one band;
// what is no age becomes the other value.
func BandSQL(age, other string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "CASE WHEN %s < 0 THEN %s", age, other)
	for a := 0; a <= maxAge; a++ {
		if a == maxAge || bundle.Band(a) != bundle.Band(a+1) {
			fmt.Fprintf(&b, " WHEN %s <= %d THEN %s", age, a, lit(bundle.Band(a)))
		}
	}
	return b.String() + " ELSE " + other + " END"
}

func noDate(f *form) string {
	return "no date of the form " + f.text + ": correct it, or leave the cell empty"
}

// hide leaves only the shape of a date's text where the basis allows no more. The
// text goes on with a row that is set aside.
func (t *turner) hide(c *cell) {
	if t.m.hidesDates() {
		c.src = hidden(c.src)
	}
}

// period keeps of a date what the mapping says stays.
func (t *turner) period(c *cell, spec Column) {
	if t.m.formOf(t.src, spec) != nil {
		defer t.hide(c)
	}
	f := t.m.formOf(t.src, spec)
	if f == nil {
		return
	}
	c.plain, c.reason = false, noDate(f)
	d := "(" + t.date(c.src, f) + ")"
	keep := t.m.keep(spec)
	switch {
	case f.quarter:
		year := fmt.Sprintf("regexp_extract(%s, %s, %d)", c.src, lit("^"+f.pattern+"$"), f.yearGroup)
		quarter := fmt.Sprintf("'-Q' || regexp_extract(%s, %s, %d)", c.src, lit("^"+f.pattern+"$"), f.quarterGroup)
		if keep == "year" {
			quarter = "''"
		}
		c.val = fmt.Sprintf("CASE WHEN %s THEN %s || %s END", whole(c.src, f.pattern), year, quarter)
		return
	case !f.month:
		keep = "year"
	case !f.day && (keep == "" || keep == "day"):
		keep = "month"
	}
	switch keep {
	case "year":
		c.val = "strftime(" + d + ", '%Y')"
	case "quarter":
		c.val = "strftime(" + d + ", '%Y') || '-Q' || CAST(quarter(" + d + ") AS VARCHAR)"
	case "month":
		c.val = "strftime(" + d + ", '%Y-%m')"
	default:
		c.val = "strftime(" + d + ", '%Y-%m-%d')"
	}
}
