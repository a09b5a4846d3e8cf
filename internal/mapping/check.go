package mapping

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"afterfit/internal/bundle"
)

// checker collects what is wrong with a mapping by itself, without an export.
type checker struct {
	m     *Mapping
	found Mistakes
}

func (c *checker) add(path, found, remedy string) {
	c.found = append(c.found, c.m.mistake(path, found, remedy))
}

// oneOf reports a word that is none of those allowed; "" is always allowed.
func (c *checker) oneOf(path, word string, allowed ...string) {
	if word != "" && !has(allowed, word) {
		c.add(path, shown(word), near(word, allowed)+"use "+shownList(allowed))
	}
}

// Formats lists the file formats that a source may name.
var Formats = []string{"csv", "xlsx", "parquet", "ndjson"}

// Encodings lists the encodings that a source may name.
var Encodings = []string{"cp437", "cp850", "latin-1", "latin-2", "latin-9", "mac-roman", "utf-16be", "utf-16le", "utf-8", "windows-1250", "windows-1252"}

func (c *checker) check() {
	e := c.m.Export
	c.oneOf("export.basis", e.Basis, "safe_harbor", "limited_data_set", "consented_local")
	c.oneOf("export.decimal", e.Decimal, ".", ",")
	c.dateForm("export.date", e.Date)
	for i, name := range e.Absent {
		path := fmt.Sprintf("export.absent.%d", i)
		c.oneOf(path, name, tableNames()...)
		if len(c.m.Fills(name)) > 0 {
			c.add(path, "the table "+shown(name)+", which is filled further down", "take it out of absent, or take out [["+name+"]]")
		}
	}
	for _, name := range slices.Sorted(maps.Keys(c.m.Sources)) {
		c.source("sources."+name, c.m.Sources[name])
	}
	used := map[string]bool{}
	for _, t := range bundle.Tables {
		fills := c.m.Fills(t.Name)
		if len(fills) == 0 && t.Required && !has(e.Absent, t.Name) {
			c.add("", "no [["+t.Name+"]]", "say where its rows come from ("+t.Meaning+"), or write absent = ["+shown(t.Name)+"] under [export] if this kind of export has none")
		}
		for i, f := range fills {
			used[f.From] = true
			c.fill(t, fmt.Sprintf("%s.%d", t.Name, i), f)
		}
	}
	if has(e.Absent, "cases") {
		c.add("export.absent", "the table \"cases\" among those absent", "say where the cases come from; there is nothing to load without them")
	}
	for _, name := range slices.Sorted(maps.Keys(c.m.Sources)) {
		if !used[name] {
			c.add("sources."+name, "a source that no table takes rows from", "write from = "+shown(name)+" in a table, or take the source out")
		}
	}
	c.codesUsed()
}

func tableNames() []string {
	var names []string
	for _, t := range bundle.Tables {
		names = append(names, t.Name)
	}
	return names
}

func (c *checker) source(path string, s Source) {
	c.oneOf(path+".format", s.Format, Formats...)
	c.oneOf(path+".encoding", s.Encoding, Encodings...)
	c.oneOf(path+".decimal", s.Decimal, ".", ",")
	c.oneOf(path+".delimiter", s.Delimiter, ",", ";", "\t", "|")
	c.dateForm(path+".date", s.Date)
	if s.Header < 0 {
		c.add(path+".header", strconv.FormatInt(s.Header, 10), "give the line of the header, the first line is 1")
	}
	if s.File == "" && s.Sheet == "" {
		c.add(path, "a source without file or sheet", `say which one it is, such as file = "cases*.csv"`)
	}
}

func (c *checker) dateForm(path, form string) {
	if form == "" {
		return
	}
	if _, err := parseForm(form); err != nil {
		c.add(path, shown(form)+", which is no form of a date ("+err.Error()+")", `put it together from yyyy, yy, mm, dd and q, such as "dd.mm.yyyy" or "Qq yyyy"`)
	}
}

// turns spells out a fill's Each: "1..3" is 1, 2, 3. A fill without has one turn, "".
func (f Fill) turns() []string {
	if len(f.Each) == 0 {
		return []string{""}
	}
	var words []string
	for _, w := range f.Each {
		if lo, hi, ok := numbered(w); ok {
			for i := lo; i <= hi; i++ {
				words = append(words, strconv.Itoa(i))
			}
			continue
		}
		words = append(words, w)
	}
	return words
}

func numbered(w string) (lo, hi int, ok bool) {
	a, b, cut := strings.Cut(w, "..")
	if !cut {
		return 0, 0, false
	}
	lo, errLo := strconv.Atoi(strings.TrimSpace(a))
	hi, errHi := strconv.Atoi(strings.TrimSpace(b))
	return lo, hi, errLo == nil && errHi == nil
}

const maxTurns = 200

func (c *checker) fill(t bundle.Table, path string, f Fill) {
	if _, ok := c.m.Sources[f.From]; !ok {
		known := slices.Sorted(maps.Keys(c.m.Sources))
		c.add(path+".from", "the source "+shown(f.From)+", which is not there", near(f.From, known)+"name one of [sources]: "+shownList(known))
	}
	for i, w := range f.Each {
		if lo, hi, ok := numbered(w); ok && (hi < lo || hi-lo >= maxTurns) {
			c.add(fmt.Sprintf("%s.each.%d", path, i), shown(w), fmt.Sprintf(`count upwards, at most %d, such as "1..8"`, maxTurns))
		}
	}
	for i, w := range f.Where {
		c.condition(fmt.Sprintf("%s.where.%d", path, i), f, w)
	}
	for _, name := range slices.Sorted(maps.Keys(f.Columns)) {
		at := path + ".columns." + name
		col, ok := t.Column(name)
		if !ok {
			c.add(at, "the column "+shown(name)+", which "+t.Name+" does not have", near(name, t.Names())+"use "+shownList(t.Names()))
			continue
		}
		c.column(col, at, f, f.Columns[name])
	}
	for _, col := range t.Columns {
		if _, ok := f.Columns[col.Name]; !ok && col.Required {
			c.add(path, "no column "+col.Name, t.Name+" cannot do without it ("+col.Meaning+"): say where it comes from under ["+t.Name+".columns]")
		}
	}
	if len(f.Each) > 0 && !usesTurn(f) {
		c.add(path+".each", "each, but no {n} in a column", "write {n} where its words belong, such as column = \"Visit {n}\"")
	}
}

func usesTurn(f Fill) bool {
	for _, col := range f.Columns {
		if slices.ContainsFunc(col.wordsIn(), isTurned) {
			return true
		}
	}
	return false
}

func isTurned(w string) bool { return strings.Contains(w, turnMark) }

// turnMark is what the words of Each take the place of.
const turnMark = "{n}"

// wordsIn lists the header words that a column names, with {n} as it stands.
func (c Column) wordsIn() []string {
	words := append([]string{}, c.Join...)
	if c.Column != "" {
		words = append(words, c.Column)
	}
	for _, w := range []string{c.Day0, c.Since} {
		if w != "" && w != fromRecords && w != fromDelivery {
			words = append(words, w)
		}
	}
	for _, alt := range c.FirstOf {
		words = append(words, alt.wordsIn()...)
	}
	return slices.DeleteFunc(words, func(w string) bool { return w == turnMark })
}

func (c *checker) condition(path string, f Fill, w Condition) {
	n := 0
	for _, set := range []bool{len(w.Is) > 0, len(w.Not) > 0, w.Filled != nil} {
		if set {
			n++
		}
	}
	if w.Column == "" || n != 1 {
		c.add(path, "a filter that is not whole", `write { column = "Kind", is = ["Visit"] }, or not = [...], or filled = true`)
	}
	if isTurned(w.Column) && len(f.Each) == 0 {
		c.add(path+".column", "{n} without each", "say what takes its place, such as each = [\"1..8\"]")
	}
}

// codesUsed checks that every list of codes is used and translates to something.
func (c *checker) codesUsed() {
	used := map[string]bool{}
	for _, t := range bundle.Tables {
		for _, f := range c.m.Fills(t.Name) {
			for _, col := range f.Columns {
				used[col.Codes] = true
				for _, alt := range col.FirstOf {
					used[alt.Codes] = true
				}
			}
		}
	}
	for _, name := range slices.Sorted(maps.Keys(c.m.Codes)) {
		if !used[name] {
			c.add("codes."+name, "a list of codes that no column uses", "write codes = "+shown(name)+" in a column, or take the list out")
		}
		for word, code := range c.m.Codes[name] {
			if code == "" {
				c.add("codes."+name+"."+word, "a word without its code", "give the contract's code, or put the word among empty = [...] under [export] if it means not recorded")
			}
		}
	}
}
