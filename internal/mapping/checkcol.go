package mapping

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"afterfit/internal/bundle"
)

// What a day may be counted from besides a named column.
const (
	fromRecords  = "records"
	fromDelivery = "delivery"
)

// allows says which keys make sense for which kind of column.
func allows(kind bundle.Kind, unit string) map[string]bool {
	keys := map[string]bool{}
	set := func(names ...string) {
		for _, n := range names {
			keys[n] = true
		}
	}
	switch kind {
	case bundle.Text:
		set("letters", "codes")
	case bundle.AgeBand:
		set("codes", "date")
	case bundle.Code:
		set("codes")
	case bundle.Codes:
		set("codes", "split")
	case bundle.Int:
		set("codes", "numerals")
	case bundle.Day:
		set("date", "day0", "since")
	case bundle.Period:
		set("date", "keep")
	}
	if unit != "" {
		set("unit")
	}
	return keys
}

// unitsOf lists the units that a column's unit can be turned from.
func unitsOf(unit string) []string {
	switch unit {
	case "mm":
		return []string{"mm", "cm", "in"}
	case "d":
		return []string{"days", "weeks"}
	case "min":
		return []string{"min", "h"}
	}
	return nil
}

// column checks one column of a fill.
func (c *checker) column(col bundle.Column, path string, f Fill, spec Column) {
	n := 0
	for _, set := range []bool{spec.Column != "", len(spec.FirstOf) > 0, len(spec.Join) > 0, spec.Value != ""} {
		if set {
			n++
		}
	}
	if _, blank := c.m.places[path+".value"]; blank && n == 0 {
		c.add(path+".value", "a blank for "+col.Name, "fill it in ("+col.Meaning+"), or name the column that has it")
		return
	}
	if n != 1 {
		c.add(path, "no single source", `give one of column = "...", first_of = [...], join = [...] or value = "..."`)
		return
	}
	c.keys(col, path, spec)
	c.birth(col, path, f, spec)
	for _, w := range append(spec.wordsIn(), spec.Value) {
		if isTurned(w) && len(f.Each) == 0 {
			c.add(path, "{n} without each", "say what takes its place, such as each = [\"1..8\"]")
		}
	}
	switch {
	case len(spec.FirstOf) > 0:
		c.firstOf(col, path, f, spec)
	case spec.Value != "":
		c.constant(col, path, "value", spec)
	default:
		c.turning(col, path, spec)
	}
	if spec.Default != "" {
		c.constant(col, path, "default", Column{Value: spec.Default})
	}
}

// keys checks that only keys are given that make sense for the kind of column.
func (c *checker) keys(col bundle.Column, path string, spec Column) {
	can := allows(col.Kind, col.Unit)
	for _, k := range []struct{ key, value string }{{"unit", spec.Unit}, {"date", spec.Date}, {"keep", spec.Keep}, {"day0", spec.Day0}, {"since", spec.Since},
		{"codes", spec.Codes}, {"numerals", spec.Numerals}, {"split", spec.Split}, {"letters", spec.Letters}} {
		if k.value == "" {
			continue
		}
		if !can[k.key] {
			c.add(path+"."+k.key, "the key "+k.key+", which says nothing about "+col.Name+" ("+col.Kind.String()+")", "take it out")
		}
		if len(spec.FirstOf) > 0 {
			c.add(path+"."+k.key, "the key "+k.key+" beside first_of", "write it inside each of the sources")
		}
	}
	if spec.With != "" && len(spec.Join) == 0 {
		c.add(path+".with", "the key with, but no join", "take it out")
	}
	if len(spec.Join) > 0 && col.Kind != bundle.Text {
		c.add(path+".join", "a join for "+col.Name+" ("+col.Kind.String()+")", "only keys can be joined from several columns; name one column")
	}
	c.oneOf(path+".unit", spec.Unit, unitsOf(col.Unit)...)
	c.oneOf(path+".keep", spec.Keep, "year", "quarter", "month", "day")
	c.oneOf(path+".numerals", spec.Numerals, "roman")
	c.oneOf(path+".letters", spec.Letters, "upper", "lower")
	c.dateForm(path+".date", spec.Date)
	c.codeList(col, path, spec)
}

// codeList checks that a list of codes is there and leads to codes of the column.
func (c *checker) codeList(col bundle.Column, path string, spec Column) {
	if spec.Codes == "" {
		return
	}
	list, ok := c.m.Codes[spec.Codes]
	if !ok {
		known := slices.Sorted(maps.Keys(c.m.Codes))
		c.add(path+".codes", "the list of codes "+shown(spec.Codes)+", which is not there", near(spec.Codes, known)+"add it as [codes."+spec.Codes+"] with lines of the form \"their word\" = \"code\"")
		return
	}
	if len(col.Codes) == 0 {
		return
	}
	for _, word := range slices.Sorted(maps.Keys(list)) {
		if code := list[word]; code != "" && !has(col.Codes, code) {
			c.add("codes."+spec.Codes+"."+word, "the code "+shown(code)+", which "+col.Name+" does not have", near(code, col.Codes)+"use "+shownList(col.Codes))
		}
	}
}

// firstOf checks the sources of a column that has several.
func (c *checker) firstOf(col bundle.Column, path string, f Fill, spec Column) {
	modes := map[dayMode]bool{}
	for i, alt := range spec.FirstOf {
		at := fmt.Sprintf("%s.first_of.%d", path, i)
		if len(alt.FirstOf) > 0 || alt.Default != "" {
			c.add(at, "first_of or default inside first_of", "write one list, and the default beside it")
			continue
		}
		c.column(col, at, f, alt)
		modes[c.m.dayMode(c.m.Sources[f.From], col, alt)] = true
	}
	if len(modes) > 1 {
		c.add(path+".first_of", "days that are counted from different days", "count all of them from the same day")
	}
}

// constant checks a value that the mapping itself gives.
func (c *checker) constant(col bundle.Column, path, key string, spec Column) {
	if isTurned(spec.Value) {
		return
	}
	codes := strings.Split(spec.Value, "|")
	if col.Kind != bundle.Codes {
		codes = codes[:1]
		codes[0] = spec.Value
	}
	for _, code := range codes {
		if spec.Codes == "" && len(col.Codes) > 0 && !has(col.Codes, code) {
			c.add(path+"."+key, "the code "+shown(code)+", which "+col.Name+" does not have", near(code, col.Codes)+"use "+shownList(col.Codes))
		}
	}
}

// turning checks that a cell can be turned without guessing: lengths and times
// need their unit, dates their form and the day that is day 0.
func (c *checker) turning(col bundle.Column, path string, spec Column) {
	src := c.sourceOf(path)
	form := c.m.formOf(src, spec)
	dated := spec.Date != "" || spec.Day0 != ""
	switch {
	case col.Kind == bundle.Day && dated && spec.Unit+spec.Since != "":
		c.add(path, "a date and a number at once", "keep date and day0 for a date, or unit and since for a number")
	case col.Kind == bundle.Day && dated:
		c.dayForm(path, form)
	case col.Kind == bundle.Period && spec.Keep != "" && form == nil:
		c.add(path+".keep", "keep, but no form of the date", `say how the date is written, such as date = "dd.mm.yyyy"`)
	case col.Kind == bundle.Period && c.m.Export.Basis == safeHarbor && spec.Keep != "" && spec.Keep != "year":
		c.add(path+".keep", "keep = "+shown(spec.Keep)+", which is finer than the basis safe_harbor allows", `write keep = "year"`)
	case col.Kind == bundle.Period && form != nil && form.day && c.m.keep(spec) == "":
		c.add(path, "a date of which it is not said how much stays", `add keep = "month" (or year, quarter, day: as fine as the privacy basis allows)`)
	case col.Unit != "" && spec.Unit == "" && !dated:
		remedy := `add unit = ` + shownList(unitsOf(col.Unit))
		if col.Kind == bundle.Day {
			remedy += `, or date = "dd.mm.yyyy" if it is a date`
		}
		c.add(path, "no unit for "+col.Name, strings.ReplaceAll(remedy, `", "`, `" or "`))
	}
}

// birth checks that the age at a birth's records can be worked out.
func (c *checker) birth(col bundle.Column, path string, f Fill, spec Column) {
	if col.Kind != bundle.AgeBand || spec.Date == "" {
		return
	}
	records := f.Columns["records_on"]
	form, born := c.m.formOf(c.m.Sources[f.From], records), c.m.formOf(Source{}, spec)
	if records.Column == "" || form == nil || born != nil && (form.quarter || born.quarter || born.month && !form.day) {
		c.add(path+".date", "a birth without the day of the records beside it", `name in records_on a column of the same row with whole dates, and its form, such as date = "dd.mm.yyyy"`)
	}
}

func (c *checker) dayForm(path string, form *form) {
	if form == nil {
		c.add(path, "a date of which the form is not said", `add date = "dd.mm.yyyy" here or under [export]`)
	} else if !form.day {
		c.add(path+".date", "a date without its day", "a day can only be counted from whole dates")
	}
}

// sourceOf finds the source of the fill that a path lies in.
func (c *checker) sourceOf(path string) Source {
	parts := strings.Split(path, ".")
	for i, f := range c.m.Fills(parts[0]) {
		if fmt.Sprint(i) == parts[1] {
			return c.m.Sources[f.From]
		}
	}
	return Source{}
}
