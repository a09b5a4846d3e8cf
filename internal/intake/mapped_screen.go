package intake

import (
	"context"
	"database/sql"
	"fmt"
	"hash/maphash"
	"regexp"
	"slices"
	"strings"

	"afterfit/internal/mapping"
	"afterfit/internal/privacy"
)

// A foreign export is looked through before a mapping turns anything of it: every
// column of every sheet, whether the mapping names it or not, as the stated basis
// asks. What is found stops the load, unless the mapping leaves of the column only
// what the basis allows, which is so for two kinds: a date of which a number of
// days, the year or an age band is left, and an age of which the band is left.
// Names, numbers and the like stop it even where a code list or a key would take
// their place: the key to that list would lie in the mapping.

// rawScreen gathers what the sheets of an export hold of people.
type rawScreen struct {
	basis   privacy.Basis
	cleared []mapping.Cleared
	mapping string // name of its file

	found   []privacy.Finding
	used    []privacy.Clearance
	carried []privacy.Clearance // clearances for columns of the contract that take the text as it is
}

// sheets looks through every column of every sheet.
func (s *rawScreen) sheets(ctx context.Context, c *sql.Conn, raws []mapping.Raw, p Progress) error {
	done, total := int64(0), int64(0)
	for _, raw := range raws {
		total += raw.Rows
	}
	for _, raw := range raws {
		p.at("screening", done, total)
		done += raw.Rows
		cols := make([]screened, len(raw.Columns))
		for i, col := range raw.Columns {
			what := privacy.Column{Table: raw.Source, File: raw.String(), Name: headerWord(col.Word), Pseudonym: s.isKey(col)}
			if what.Table == "" {
				what.Table = raw.String()
			}
			cols[i] = screened{what, "r." + col.Cell}
		}
		findings, err := screenAll(ctx, c, s.basis, raw.Table, raw.Rows, cols)
		if err != nil {
			return err
		}
		for i, col := range raw.Columns {
			s.column(raw, col, findings[i])
		}
		s.titles(raw)
	}
	return nil
}

// column judges the findings of a column by what the mapping makes of it.
func (s *rawScreen) column(raw mapping.Raw, col mapping.RawColumn, findings []privacy.Finding) {
	for _, f := range findings {
		f.Column = privacy.SafeHeader(col.Word)
		if s.clears(raw, col, f) {
			continue
		}
		switch turned, left := turnedInto(f.Kind, col.Uses); {
		case turned:
			f.Stops, f.Turned, f.Remedy = false, true, "read, but not stored: only "+left+" is"
		case f.Kind == privacy.Date && !s.basis.Known() && onlyPeriod(col.Uses):
			continue // the contract's own column says it
		case f.Kind == privacy.Date && f.Stops:
			f.Remedy = dateRemedy(col.Uses)
		}
		s.found = append(s.found, f)
	}
}

// titleWord stands for the lines above a header where a column is named.
const titleWord = "lines above the header"

// titles looks through the texts above a header. They are sentences for people, of which
// nothing is stored: their dates and their length tell nothing of a patient, a name or a
// number may.
func (s *rawScreen) titles(raw mapping.Raw) {
	what := privacy.Column{Table: raw.Source, File: raw.String(), Name: titleWord}
	if what.Table == "" {
		what.Table = raw.String()
	}
	for _, f := range screenTitles(s.basis, what, raw.Titles) {
		if !s.clears(raw, mapping.RawColumn{Word: titleWord}, f) {
			s.found = append(s.found, f)
		}
	}
}

// numberInText is a stretch of figures in a sentence that may be a telephone number.
var numberInText = regexp.MustCompile(`[+(]?\d[\d\s()+./–-]{5,}\d`)

// screenTitles looks through texts above a header, whole, part by part, and every longer
// number in them by itself: a telephone number tells itself only where nothing else stands.
func screenTitles(basis privacy.Basis, what privacy.Column, texts []string) (found []privacy.Finding) {
	if len(texts) == 0 {
		return nil
	}
	gathered := newSpans(maphash.MakeSeed())
	for _, text := range texts {
		parts := append([]string{text}, strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(":;|,", r) })...)
		for _, part := range slices.Compact(append(parts, numberInText.FindAllString(text, -1)...)) {
			gathered.add([]byte(part), false, false)
			what.Values = append(what.Values, privacy.Value{Text: strings.TrimSpace(part), Rows: 1})
		}
	}
	what.Spans = gathered.list()
	for _, f := range privacy.Check(basis, what) {
		if f.Kind == privacy.Date || f.Kind == privacy.Age || f.Kind == privacy.FreeText || !f.Stops {
			continue
		}
		f.Remedy = "take it out of the lines above the header"
		found = append(found, f)
	}
	return found
}

// headerWord is a header's own word, without the number of a repeat.
func headerWord(word string) string {
	before, n, cut := strings.Cut(word, "#")
	if cut && strings.Trim(n, "0123456789") == "" {
		return before
	}
	return word
}

func (s *rawScreen) isKey(col mapping.RawColumn) bool {
	return slices.ContainsFunc(col.Uses, func(u mapping.ColumnUse) bool {
		return u.Table == "cases" && u.Column == "patient_key" && u.Fate == mapping.Kept
	})
}

// clears reports whether a person cleared a finding, notes the clearance, and
// carries it to the columns of the contract that take the text as it is.
func (s *rawScreen) clears(raw mapping.Raw, col mapping.RawColumn, f privacy.Finding) bool {
	for _, k := range s.cleared {
		if k.Kind != string(f.Kind) || !k.Covers(raw.SheetID, raw.Source) || !sameWord(k.Column, col.Word) && !sameWord(k.Column, f.Column) {
			continue
		}
		used := privacy.Clearance{Table: f.Table, Column: f.Column, Kind: f.Kind, Reason: k.Reason}
		s.used = append(s.used, used)
		for _, u := range col.Uses {
			if u.Fate == mapping.Kept {
				s.carried = append(s.carried, privacy.Clearance{Table: u.Table, Column: u.Column, Kind: f.Kind, Reason: k.Reason})
			}
		}
		return true
	}
	return false
}

// sameWord compares words of a header, capitals and blanks aside.
func sameWord(a, b string) bool {
	plain := func(s string) string {
		return strings.ToLower(strings.Join(strings.Fields(strings.TrimSuffix(s, "#1")), " "))
	}
	return plain(a) == plain(b)
}

// turnedInto reports whether nothing of a kind is left of a column where the
// mapping uses it, and what is left.
func turnedInto(k privacy.Kind, uses []mapping.ColumnUse) (ok bool, left string) {
	words := map[mapping.Fate]string{}
	switch k {
	case privacy.Date:
		words = map[mapping.Fate]string{mapping.Counted: "a number of days", mapping.Yeared: "the year", mapping.Banded: "the age band"}
	case privacy.Age:
		words = map[mapping.Fate]string{mapping.Banded: "the age band"}
	}
	var lefts []string
	for _, u := range uses {
		word, gone := words[u.Fate]
		if !gone {
			return false, ""
		}
		if !contains(lefts, word) {
			lefts = append(lefts, word)
		}
	}
	return len(uses) > 0, strings.Join(lefts, " and ")
}

// onlyPeriod reports a date that goes on in the contract's own period at most.
func onlyPeriod(uses []mapping.ColumnUse) bool {
	return len(uses) > 0 && !slices.ContainsFunc(uses, func(u mapping.ColumnUse) bool {
		return u.Fate != mapping.PeriodKept && u.Fate != mapping.Counted && u.Fate != mapping.Yeared && u.Fate != mapping.Banded
	})
}

// dateRemedy says how the dates of a column would become what the basis allows.
func dateRemedy(uses []mapping.ColumnUse) string {
	for _, u := range uses {
		switch u.Fate {
		case mapping.PeriodKept:
			return `give ` + u.Table + "." + u.Column + ` its form, such as date = "dd.mm.yyyy", and keep = "year"`
		case mapping.Kept:
			return "take the date out of " + u.Table + "." + u.Column + ", which would keep it as it is"
		case mapping.Coded, mapping.Measured:
			return u.Table + "." + u.Column + " makes nothing of a date: correct the cells or the mapping"
		}
	}
	return "leave the column out of the export; the mapping makes no day of it"
}

// refusal refuses the export when a finding stops it.
func (s *rawScreen) refusal() error {
	return identified(s.basis, s.found, fmt.Sprintf("%s: [[cleared]] with table (the source, file or sheet), column, kind and a reason", s.mapping))
}

// checkCleared checks the clearances that a mapping holds.
func checkCleared(m *mapping.Mapping) error {
	for i, k := range m.Cleared {
		one := privacy.Clearance{Table: k.Table, Column: k.Column, Kind: privacy.Kind(k.Kind), Reason: k.Reason}
		if err := one.Validate(); err != nil {
			return wrongMapping{m.Wrong(fmt.Sprintf("cleared.%d", i), err.Error(), clearRemedy())}
		}
	}
	return nil
}

// clearedIn gives a mapping's clearances as a bundle's note has them.
func clearedIn(m *mapping.Mapping) []privacy.Clearance {
	var list []privacy.Clearance
	for _, k := range m.Cleared {
		list = append(list, privacy.Clearance{Table: k.Table, Column: k.Column, Kind: privacy.Kind(k.Kind), Reason: k.Reason})
	}
	return list
}

// hideWords leaves of words without a code only the shape, where a table has rows
// from a column that could identify people.
func (s *rawScreen) hideWords(words []mapping.UnknownCode) {
	for i := range words {
		if slices.ContainsFunc(s.found, func(f privacy.Finding) bool { return f.Stops }) {
			words[i].Word = privacy.Mask(words[i].Word)
		}
	}
}
