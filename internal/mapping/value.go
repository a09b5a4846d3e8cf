package mapping

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"afterfit/internal/bundle"
)

// cell is how one column of the contract comes out of a row, as SQL over the
// cleaned cells of a source.
type cell struct {
	word   string // of the source's header, as a message names it
	src    string // the source's own text, NULL where nothing was recorded
	val    string // its value; a DATE or a number of days where mode says so
	mode   dayMode
	reason string // what a reader is told where src is filled and no value comes of it
	plain  bool   // the value is the source's text
}

// turner writes cells for one turn of one fill.
type turner struct {
	m       *Mapping
	src     Source
	native  bool                     // the file has numbers and dates of its own
	turn    string                   // what stands for {n}
	records Column                   // where the fill has the date of the records
	ref     func(word string) string // the SQL of a header word's cell
}

// lit quotes a text for SQL.
func lit(s string) string {
	return "'" + strings.ReplaceAll(strings.ReplaceAll(s, "\x00", ""), "'", "''") + "'"
}

// whole is the SQL that asks whether all of x fits a pattern.
func whole(x, pattern string) string { return "regexp_full_match(" + x + ", " + lit(pattern) + ")" }

func (t *turner) set(word string) string { return strings.ReplaceAll(word, turnMark, t.turn) }

// cell writes a column of the contract.
func (t *turner) cell(col bundle.Column, spec Column) cell {
	if len(spec.FirstOf) > 0 {
		return t.withDefault(t.firstOf(col, spec), spec)
	}
	c := cell{plain: true}
	switch {
	case spec.Value != "":
		c.word, c.src = "(the mapping)", lit(t.set(spec.Value))
		if spec.Codes == "" {
			c.val = c.src
			return c
		}
	case len(spec.Join) > 0:
		c.word, c.src = t.join(spec)
	default:
		c.word = t.set(spec.Column)
		c.src = t.ref(c.word)
	}
	t.convert(&c, col, spec)
	return t.withDefault(c, spec)
}

func (t *turner) withDefault(c cell, spec Column) cell {
	if spec.Default != "" {
		c.val = fmt.Sprintf("CASE WHEN %s IS NULL THEN %s ELSE %s END", c.src, lit(spec.Default), c.val)
		c.plain = false
	}
	return c
}

// join makes a key from several columns; without one of its parts there is none.
func (t *turner) join(spec Column) (word, src string) {
	with := spec.With
	if with == "" {
		with = "-"
	}
	var words, parts, filled []string
	for _, w := range spec.Join {
		if w == turnMark {
			parts = append(parts, lit(t.turn))
			continue
		}
		w = t.set(w)
		words, parts, filled = append(words, w), append(parts, t.ref(w)), append(filled, t.ref(w)+" IS NOT NULL")
	}
	src = "concat_ws(" + lit(with) + ", " + strings.Join(parts, ", ") + ")"
	if len(filled) > 0 {
		src = "CASE WHEN " + strings.Join(filled, " AND ") + " THEN " + src + " END"
	}
	return strings.Join(words, " + "), src
}

// firstOf takes the first source that is filled, turned in its own way.
func (t *turner) firstOf(col bundle.Column, spec Column) cell {
	var words, srcs, reasons []string
	val := "CASE"
	c := cell{}
	for _, alt := range spec.FirstOf {
		one := t.cell(col, alt)
		c.mode = one.mode
		words, srcs, reasons = append(words, one.word), append(srcs, one.src), append(reasons, one.reason)
		val += fmt.Sprintf(" WHEN %s IS NOT NULL THEN %s", one.src, one.val)
	}
	c.word, c.src, c.val = strings.Join(words, " or "), "coalesce("+strings.Join(srcs, ", ")+")", val+" END"
	c.reason = reasons[0]
	return c
}

// convert writes the value of a cell whose text is known.
func (t *turner) convert(c *cell, col bundle.Column, spec Column) {
	c.val = c.src
	switch col.Kind {
	case bundle.Text:
		t.text(c, spec)
	case bundle.Code:
		c.val, c.plain = t.code(c.src, col, spec), false
		c.reason = t.codeReason(col, spec)
	case bundle.Codes:
		t.codes(c, col, spec)
	case bundle.Int:
		t.number(c, col, spec)
	case bundle.Length:
		t.length(c, spec)
	case bundle.Day:
		t.day(c, col, spec)
	case bundle.Period:
		t.period(c, spec)
	case bundle.AgeBand:
		if spec.Date != "" {
			t.birth(c, spec)
			return
		}
		tidy := fmt.Sprintf("replace(replace(%s, '–', '-'), ' ', '')", c.src)
		c.val, c.plain = fmt.Sprintf("coalesce(%s, %s)", t.translated(c.src, spec), tidy), false
	}
}

func (t *turner) text(c *cell, spec Column) {
	if spec.Codes != "" {
		c.val, c.plain = fmt.Sprintf("coalesce(%s, %s)", t.translated(c.src, spec), t.star(spec)), false
		c.reason = t.codeReason(bundle.Column{}, spec)
	}
	if spec.Letters != "" {
		c.val, c.plain = spec.Letters+"("+c.val+")", false
	}
}

// folded is the SQL of fold.
func folded(x string) string { return `lower(regexp_replace(` + x + `, '\s+', ' ', 'g'))` }

// otherWords is the entry of a list of codes for every word that it does not name.
const otherWords = "*"

// translated is the SQL that looks a word up in the column's list of codes, NULL
// where the list does not have it.
func (t *turner) translated(x string, spec Column) string {
	list := t.m.Codes[spec.Codes]
	var whens strings.Builder
	for _, word := range slices.Sorted(maps.Keys(list)) {
		if word != otherWords {
			fmt.Fprintf(&whens, " WHEN %s THEN %s", lit(fold(word)), lit(list[word]))
		}
	}
	if whens.Len() == 0 {
		return "CAST(NULL AS VARCHAR)"
	}
	return "CASE " + folded(x) + whens.String() + " END"
}

// star is the code for the words that a list does not name, NULL if it has none.
func (t *turner) star(spec Column) string {
	if code, ok := t.m.Codes[spec.Codes][otherWords]; ok {
		return lit(code)
	}
	return "CAST(NULL AS VARCHAR)"
}

// code is the SQL that turns a word into a code: by the mapping's list, else as
// the contract's own code in any capitals, with blanks or dashes for underscores.
func (t *turner) code(x string, col bundle.Column, spec Column) string {
	own := fmt.Sprintf(`lower(regexp_replace(%s, '[\s_-]+', '_', 'g'))`, x)
	quoted := make([]string, len(col.Codes))
	for i, code := range col.Codes {
		quoted[i] = lit(code)
	}
	return fmt.Sprintf("CASE WHEN %s IS NULL THEN NULL ELSE coalesce(%s, CASE WHEN %s IN (%s) THEN %s END, %s) END",
		x, t.translated(x, spec), own, strings.Join(quoted, ", "), own, t.star(spec))
}

// countMark stands in a reason for how many rows have the same value.
const countMark = "%n"

func (t *turner) codeReason(col bundle.Column, spec Column) string {
	where := "give the column codes = \"...\" in " + t.m.file
	if spec.Codes != "" {
		where = "add it to [codes." + spec.Codes + "] in " + t.m.file
	}
	reason := "a word that the mapping has no code for (in " + countMark + "): " + where + " or correct it"
	if len(col.Codes) > 0 && len(col.Codes) < 12 {
		reason += "; the codes are " + strings.Join(col.Codes, ", ")
	}
	return reason
}

// codes turns a list of words; one that has no code leaves the whole cell without
// a value.
func (t *turner) codes(c *cell, col bundle.Column, spec Column) {
	sep := spec.Split
	if sep == "" {
		sep = "|"
	}
	parts := fmt.Sprintf("list_filter(list_transform(string_split(%s, %s), lambda x: trim(x)), lambda x: x <> '')", c.src, lit(sep))
	turned := fmt.Sprintf("list_transform(%s, lambda x: %s)", parts, t.code("x", col, spec))
	c.val = fmt.Sprintf("CASE WHEN len(list_filter(%[1]s, lambda y: y IS NULL)) = 0 THEN nullif(array_to_string(%[1]s, '|'), '') END", turned)
	c.plain, c.reason = false, t.codeReason(col, spec)
}

// mark is the decimal mark of a source's texts, as a part of a pattern.
func (t *turner) mark() string {
	mark := "."
	for _, m := range []string{t.m.Export.Decimal, t.src.Decimal} {
		if m != "" {
			mark = m
		}
	}
	if t.native {
		return "[.," + "]"
	}
	return `\` + mark
}

// decimal is the SQL of the number in x, with an optional unit behind it.
func (t *turner) decimal(x, unit string) string {
	pattern := `([+-]?\d{1,6}(` + t.mark() + `\d{1,12})?)(?:\s*` + unit + `)?`
	return fmt.Sprintf("CASE WHEN %s THEN TRY_CAST(replace(regexp_extract(%s, %s, 1), ',', '.') AS DECIMAL(20,8)) END", whole(x, "(?i)"+pattern), x, lit("(?i)^"+pattern+"$"))
}

// shortest is the SQL of a number without needless zeros.
func shortest(x string) string {
	return fmt.Sprintf(`regexp_replace(regexp_replace(CAST(%s AS VARCHAR), '(\.\d*?)0+$', '\1'), '\.$', '')`, x)
}

// perUnit says how many millimetres, days or minutes a unit has.
var perUnit = map[string]string{"mm": "1", "cm": "10", "in": "25.4", "days": "1", "weeks": "7", "min": "1", "h": "60"}

// length turns into millimetres. What was written in millimetres keeps all its
// decimals, so that the contract's own rule judges them; what is converted is
// rounded to 0.01 mm, which is finer than any gauge.
func (t *turner) length(c *cell, spec Column) {
	n := t.decimal(c.src, spec.Unit)
	c.plain = false
	if spec.Unit == "mm" {
		c.val = shortest(n)
	} else {
		c.val = shortest(fmt.Sprintf("round((%s) * %s, 2)", n, perUnit[spec.Unit]))
	}
	c.reason = "no number in " + spec.Unit + ": write it like " + t.example()
}

func (t *turner) example() string {
	if !t.native && strings.HasSuffix(t.mark(), ",") {
		return "6,5"
	}
	return "6.5"
}

// wholeNumber is the SQL of a whole number of base units, NULL for a fraction.
func (t *turner) wholeNumber(x, unit string) string {
	suffix, per := "", "1"
	if unit != "" {
		suffix, per = unit, perUnit[unit]
		if unit == "days" || unit == "weeks" {
			suffix = strings.TrimSuffix(unit, "s") + "s?"
		}
	}
	n := fmt.Sprintf("(%s) * %s", t.decimal(x, suffix), per)
	return fmt.Sprintf("CASE WHEN %[1]s = floor(%[1]s) THEN CAST(%[1]s AS BIGINT) END", n)
}

var roman = []string{"I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX"}

func (t *turner) number(c *cell, col bundle.Column, spec Column) {
	tries := []string{}
	if spec.Codes != "" {
		tries = append(tries, t.translated(c.src, spec))
	}
	if spec.Numerals == "roman" {
		numerals := "CASE upper(" + c.src + ")"
		for i, r := range roman {
			numerals += fmt.Sprintf(" WHEN '%s' THEN '%d'", r, i+1)
		}
		tries = append(tries, numerals+" END")
	}
	tries = append(tries, "CAST("+t.wholeNumber(c.src, spec.Unit)+" AS VARCHAR)")
	if spec.Codes != "" {
		tries = append(tries, t.star(spec))
	}
	c.val, c.plain = "coalesce("+strings.Join(tries, ", ")+")", false
	c.reason = "no whole number"
	if spec.Numerals != "" {
		c.reason += " and no roman one"
	}
	if spec.Unit != "" {
		c.reason += " of " + col.Unit
	}
	c.reason += ": correct it, or leave the cell empty"
	if spec.Codes != "" {
		c.reason = t.codeReason(col, spec)
	}
}
