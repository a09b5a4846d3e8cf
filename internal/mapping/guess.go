package mapping

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"afterfit/internal/bundle"
)

// goodFit is how well a column must fit a thing to be proposed for it. House
// rule, no source: whatever is proposed is read by a person afterwards.
const goodFit = 0.55

// Things that stand in several tables.
const (
	caseThing  = "case_id"
	archThing  = "arch"
	visitThing = "visit_id"
)

// A sheet's grain is what one of its rows is about.
type grain int

const (
	ofCase grain = iota
	ofDenture
	ofEvent
)

// found is a column of an export that is taken for a thing.
type found struct {
	word  string   // with {n} where several columns stand side by side
	turns []string // what stands for {n}, nil for a single column
	look  ColumnLook
	fit   float64
	why   string
}

// guessed is a sheet with what its columns are taken for.
type guessed struct {
	*SheetLook
	name   string // of the source in the mapping
	grain  grain
	things map[string]found
}

func (g *guessed) has(thing string) bool { _, ok := g.things[thing]; return ok }

// count says how many things of a table were found.
func (g *guessed) count(table string) int {
	n := 0
	for thing := range g.things {
		if strings.HasPrefix(thing, table+".") {
			n++
		}
	}
	return n
}

// candidates lists a sheet's columns, those side by side as one.
func candidates(s *SheetLook) []found {
	var list []found
	stems := stemsOf(s.Columns)
	done := map[string]bool{}
	for _, col := range s.Columns {
		stem, side := stems[col.Word]
		if !side {
			list = append(list, found{word: col.Word, look: col})
			continue
		}
		if !done[stem.word] {
			done[stem.word] = true
			list = append(list, stem)
		}
	}
	return list
}

var numberedWord = regexp.MustCompile(`^(.*\D|)(\d{1,2})(\D{0,12})$`)

// stemsOf finds columns that differ only in a number that counts from 1: Visit 1,
// Visit 2 ..., or repeats of one word.
func stemsOf(columns []ColumnLook) map[string]found {
	members, order := map[string]map[int]ColumnLook{}, []string{}
	put := func(stem string, n int, col ColumnLook) {
		if members[stem] == nil {
			members[stem] = map[int]ColumnLook{}
			order = append(order, stem)
		}
		members[stem][n] = col
	}
	for _, col := range columns {
		if m := numberedWord.FindStringSubmatch(col.Word); m != nil {
			n, _ := strconv.Atoi(m[2]) // at most two digits
			put(m[1]+turnMark+m[3], n, col)
		} else {
			put(col.Word+"#"+turnMark, 1, col)
		}
	}
	stems := map[string]found{}
	for _, stem := range order {
		set := members[stem]
		if len(set) < 2 {
			continue
		}
		f := found{word: stem, turns: []string{"1.." + strconv.Itoa(len(set))}, look: set[1]}
		for i := 1; i <= len(set); i++ {
			col, ok := set[i]
			if !ok {
				f.turns = nil
				break
			}
			f.look.Values = mergeValues(f.look.Values, col.Values, i > 1)
		}
		for _, col := range set {
			if f.turns != nil {
				stems[col.Word] = f
			}
		}
	}
	return stems
}

func mergeValues(a, b []ValueCount, add bool) []ValueCount {
	if !add {
		return slices.Clone(b)
	}
	for _, v := range b {
		if i := slices.IndexFunc(a, func(w ValueCount) bool { return w.Value == v.Value }); i >= 0 {
			a[i].Rows += v.Rows
		} else {
			a = append(a, v)
		}
	}
	slices.SortFunc(a, func(x, y ValueCount) int { return cmp.Compare(x.Value, y.Value) })
	return a
}

// columnOf gives the contract's column for a thing.
func columnOf(thing string) (bundle.Column, bool) {
	table, name, cut := strings.Cut(thing, ".")
	if !cut {
		table, name = map[string]string{caseThing: "cases", archThing: "visits", visitThing: "visits"}[thing], thing
	}
	t, _ := bundle.Find(table)
	return t.Column(name)
}

// listOf names the list of value words for a column of codes.
func listOf(col bundle.Column) string {
	if has(col.Codes, "yes") {
		return "yes_no"
	}
	return col.Name
}

// fits says how well a column fits a thing, by its word and by its values.
func fits(f found, thing string) (fit float64, why string) {
	col, _ := columnOf(thing)
	byWord, through := headerFit(f.word, thing)
	bonus, ok := byValues(f.look, col, thing)
	if !ok {
		return 0, ""
	}
	if byWord == 0 {
		if bonus.share == 1 && len(f.look.Values) >= 2 && listOf(col) != "yes_no" {
			return goodFit, "its values are words for " + col.Name
		}
		return 0, ""
	}
	why = fmt.Sprintf("its word is like %q", through)
	if bonus.why != "" {
		why += ", " + bonus.why
	}
	return byWord + bonus.plus, why
}

// evidence is what a column's values say about a thing.
type evidence struct {
	plus  float64
	share float64 // of the rows whose value is a word for a code
	why   string
}

// byValues weighs a column's values; false says that they cannot be the thing.
func byValues(look ColumnLook, col bundle.Column, thing string) (evidence, bool) {
	if look.Type == "empty" {
		return evidence{plus: -0.1, why: "and it is empty"}, true
	}
	numeric := strings.HasSuffix(look.Type, "number")
	switch col.Kind {
	case bundle.Length:
		return evidence{why: "its values are numbers"}, numeric
	case bundle.Day:
		return evidence{why: "its values are " + plural(look.Type)}, look.Type == "date" || look.Type == "whole number"
	case bundle.Period:
		return evidence{why: "its values are " + plural(look.Type)}, look.Type == "date" || look.Type == "period" || numeric && look.Low > 1990
	case bundle.Int:
		if numeric {
			return evidence{}, look.Type == "whole number"
		}
		return evidence{plus: 0.1, why: "its values are roman numerals"}, romanOnly(look)
	case bundle.AgeBand:
		bands := allMatch(look, ageBand)
		return evidence{plus: 0.1, why: "its values are ages"}, bands || look.Type == "whole number" && look.Low >= 15 && look.High <= 115
	case bundle.Code, bundle.Codes:
		return coded(look, col), len(look.Values) > 0 && look.Type != "date"
	}
	return evidence{}, textual(look, thing)
}

func plural(kind string) string { return kind + "s" }

// textual rules out what cannot be a key or a name of a place or person's code.
func textual(look ColumnLook, thing string) bool {
	if look.Type == "date" || look.Type == "period" || look.Type == "number" {
		return false
	}
	few := look.Distinct <= fewValues
	return few || thing == caseThing || thing == visitThing || thing == "cases.patient_key" || thing == "cases.remake_of" || thing == "cases.clinician"
}

var ageBand = regexp.MustCompile(`^[<>]?\s?\d{2}\s?([-–]\s?\d{2,3}|\+)?$`)

func allMatch(look ColumnLook, re *regexp.Regexp) bool {
	for _, v := range look.Values {
		if !re.MatchString(v.Value) {
			return false
		}
	}
	return len(look.Values) > 0
}

func romanOnly(look ColumnLook) bool {
	for _, v := range look.Values {
		if !has(roman, strings.ToUpper(v.Value)) {
			return false
		}
	}
	return len(look.Values) > 0
}

// coded weighs the share of rows whose value the word list has a code for.
func coded(look ColumnLook, col bundle.Column) evidence {
	known, all := int64(0), int64(0)
	for _, v := range look.Values {
		all += v.Rows
		if codeFor(listOf(col), v.Value, col.Codes) != "" {
			known += v.Rows
		}
	}
	share := float64(known) / float64(max(all, 1))
	e := evidence{plus: (share - 0.5) * 0.4, share: share}
	if share > 0 {
		e.why = fmt.Sprintf("%.0f %% of its values are words for it", 100*share)
	}
	return e
}

// thingsOf lists what the columns of a sheet may be, by its grain.
func thingsOf(g grain, alone bool) []string {
	var list []string
	add := func(tables ...string) {
		for _, name := range tables {
			t, _ := bundle.Find(name)
			for _, col := range t.Columns {
				if col.Name != caseThing && col.Name != archThing && col.Name != visitThing {
					list = append(list, name+"."+col.Name)
				}
			}
		}
	}
	list = append(list, caseThing)
	switch g {
	case ofCase:
		add("cases", "records")
	case ofDenture:
		list = append(list, archThing)
		add("dentures", "trays", "remakes")
		if alone {
			add("cases", "records")
		}
	default:
		list = append(list, archThing, visitThing)
		add("visits", "sore_spots", "readings")
		list = append(list, "remakes.scope", "remakes.cause")
	}
	return list
}

// sideways lists what columns side by side may be.
var sideways = []string{"visits.day", "visits.reason", "visits.adjusted", "visits.minutes", "visits.complaints", "sore_spots.zone", "sore_spots.side", "sore_spots.grade"}

// assign gives each column of a sheet the thing that it fits best, the best fits
// first; a thing is taken once.
func assign(cols []found, things []string) (map[string]found, float64) {
	type match struct {
		col   int
		thing string
		f     found
	}
	var all []match
	for i, c := range cols {
		list := things
		if c.turns != nil {
			list = sideways
		}
		for _, thing := range list {
			if fit, why := fits(c, thing); fit >= goodFit {
				f := c
				f.fit, f.why = fit, why
				all = append(all, match{i, thing, f})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b match) int { return cmp.Compare(b.f.fit, a.f.fit) })
	taken, out, sum := map[int]bool{}, map[string]found{}, 0.0
	for _, m := range all {
		if _, twice := out[m.thing]; !twice && !taken[m.col] {
			taken[m.col], out[m.thing] = true, m.f
			sum += m.f.fit
		}
	}
	return out, sum
}
