// Package mapping reads what a practice calls things: a mapping file says, in plain
// words and without any code, where an export keeps the tables of the contract and
// how its cells are turned into the contract's. The package checks such a file,
// finds its words in an export, writes the SQL that does the turning, accounts for
// every row of the export, and proposes a mapping for an export that has none.
package mapping

import (
	"afterfit/internal/bundle"
)

// Mapping is one mapping file: it describes one kind of export.
type Mapping struct {
	Export  Export                       `toml:"export"`
	Sources map[string]Source            `toml:"sources"` // by a name of the mapping's own
	Codes   map[string]map[string]string `toml:"codes"`   // lists of translations, by name
	Cleared []Cleared                    `toml:"cleared"` // findings of the privacy checks that a person cleared

	Cases     []Fill `toml:"cases"`
	Dentures  []Fill `toml:"dentures"`
	Records   []Fill `toml:"records"`
	Readings  []Fill `toml:"readings"`
	Trays     []Fill `toml:"trays"`
	Visits    []Fill `toml:"visits"`
	SoreSpots []Fill `toml:"sore_spots"`
	Remakes   []Fill `toml:"remakes"`

	file   string // as messages name it
	lines  []string
	places map[string]place
	safe   func(word string) string // how a word of a header is shown; nil = as it is
}

// Export is what holds for the whole export. The first four are what bundle.toml
// says for a case bundle.
type Export struct {
	Name     string   `toml:"name"`
	Basis    string   `toml:"basis"`
	Invented bool     `toml:"invented"`
	Complete bool     `toml:"complete"`
	Decimal  string   `toml:"decimal"` // "." or ",", "" = "."
	Date     string   `toml:"date"`    // form of the dates, such as "dd.mm.yyyy"
	Empty    []string `toml:"empty"`   // words that mean not recorded
	Absent   []string `toml:"absent"`  // tables that this kind of export does not have
}

// Cleared is a person's word that what the privacy checks found in a column is no
// such thing. Table is a source, a file or sheet, or a table of the contract.
type Cleared struct {
	Table  string `toml:"table"`
	Column string `toml:"column"`
	Kind   string `toml:"kind"`
	Reason string `toml:"reason"`
}

// Source is one file or sheet, or several alike (Many), that rows come from.
type Source struct {
	File      string   `toml:"file"`  // name or glob, "" = any
	Sheet     string   `toml:"sheet"` // name or glob, for workbooks
	Many      bool     `toml:"many"`  // more than one may match
	Format    string   `toml:"format"`
	Encoding  string   `toml:"encoding"`
	Delimiter string   `toml:"delimiter"`
	Decimal   string   `toml:"decimal"` // over that of the export
	Date      string   `toml:"date"`    // over that of the export
	Header    int64    `toml:"header"`  // line of the header, 0 = where its words are found
	Skip      []string `toml:"skip"`    // globs on a row's first filled cell: lines of totals and the like
}

// Fill says where rows of one table come from. A table may have several.
type Fill struct {
	From    string            `toml:"from"` // name of the source
	Where   []Condition       `toml:"where"`
	Each    []string          `toml:"each"` // words that take the place of {n}, one row for each; "1..8" counts
	Columns map[string]Column `toml:"columns"`
}

// Condition is a filter on a source's rows; all of a fill's must hold.
type Condition struct {
	Column string   `toml:"column"`
	Is     []string `toml:"is"`     // one of these, whatever the capitals
	Not    []string `toml:"not"`    // none of these; an empty cell passes
	Filled *bool    `toml:"filled"` // something, or nothing, in the cell
}

// Column says where a column of the contract comes from: one of Column, FirstOf,
// Join or Value, and how it is turned.
type Column struct {
	Column  string   `toml:"column"`   // word of the header
	FirstOf []Column `toml:"first_of"` // several sources, the first that is filled counts
	Join    []string `toml:"join"`     // a key made from several columns
	With    string   `toml:"with"`     // between the parts of a key, "" = "-"
	Value   string   `toml:"value"`    // the same in every row
	Default string   `toml:"default"`  // where the cell is empty

	Unit     string `toml:"unit"`     // mm, cm, in; days, weeks; min, h
	Date     string `toml:"date"`     // form of the date; "export" in Day columns is implied by Day0
	Keep     string `toml:"keep"`     // how much of a date stays: year, quarter, month, day
	Day0     string `toml:"day0"`     // for dates: "records" or the header word of the date that is day 0
	Since    string `toml:"since"`    // for numbers: "records", "delivery" or the header word of a date
	Codes    string `toml:"codes"`    // name of a list under [codes]
	Numerals string `toml:"numerals"` // "roman"
	Split    string `toml:"split"`    // what stands between the codes of a list
	Letters  string `toml:"letters"`  // "upper" or "lower"
}

// File is the mapping file's name, as messages have it.
func (m *Mapping) File() string { return m.file }

// Fills lists the fills of a table of the contract, nil for a table that the
// mapping does not fill or that does not exist.
func (m *Mapping) Fills(table string) []Fill {
	switch table {
	case "cases":
		return m.Cases
	case "dentures":
		return m.Dentures
	case "records":
		return m.Records
	case "readings":
		return m.Readings
	case "trays":
		return m.Trays
	case "visits":
		return m.Visits
	case "sore_spots":
		return m.SoreSpots
	case "remakes":
		return m.Remakes
	}
	return nil
}

// Tables lists the tables that a load of this mapping has, in the order of the
// contract: those it fills and those it says are absent.
func (m *Mapping) Tables() []string {
	var names []string
	for _, t := range bundle.Tables {
		if len(m.Fills(t.Name)) > 0 || has(m.Export.Absent, t.Name) {
			names = append(names, t.Name)
		}
	}
	return names
}

func has(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}
