// Package bundle is the contract for case bundles as data: the tables, their
// columns, types, units, codes and ranges. The loader, the demo writer, the help
// text and the tests all read it from here; nothing else repeats it.
package bundle

import "slices"

// Kind is the type of a column's values.
type Kind int

// The kinds of column. Lengths are millimetres with at most two decimals, kept as
// DECIMAL(6,2); Int, Day and Minutes are whole numbers.
const (
	Text    Kind = iota // free of structure, a pseudonym or a code of the practice's own
	Code                // one of Column.Codes
	Codes               // a list of Column.Codes joined by "|", or "none"
	Int                 // whole number
	Day                 // whole days from the day the records were taken (day 0)
	Length              // millimetres, at most two decimals
	Period              // YYYY, YYYY-Qn, YYYY-MM or YYYY-MM-DD
	AgeBand             // one of Column.Codes, or a plain age that is banded on load
)

// Range is a closed range of values.
type Range struct{ Min, Max float64 }

// Column is one column of a table.
type Column struct {
	Name     string
	Kind     Kind
	Required bool     // the column must exist and no cell may be empty
	Codes    []string // for Code, Codes and AgeBand
	Unit     string   // "mm", "d", "min" or ""
	Hard     *Range   // outside it the row is set aside
	Soft     *Range   // outside it the row is kept and flagged
	Meaning  string
}

// Table is one table of the contract.
type Table struct {
	Name     string
	Meaning  string
	Required bool     // a bundle without it is refused
	Key      []string // columns that identify a row; empty where rows need no key
	Parent   string   // table that the rows hang on, "" for cases
	ParentBy string   // the column that names the parent
	Columns  []Column
}

// Column returns the column of that name.
func (t Table) Column(name string) (Column, bool) {
	i := slices.IndexFunc(t.Columns, func(c Column) bool { return c.Name == name })
	if i < 0 {
		return Column{}, false
	}
	return t.Columns[i], true
}

// Names lists the table's column names in the order of the contract.
func (t Table) Names() []string {
	names := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		names[i] = c.Name
	}
	return names
}

// Find returns the table of that name.
func Find(name string) (Table, bool) {
	i := slices.IndexFunc(Tables, func(t Table) bool { return t.Name == name })
	if i < 0 {
		return Table{}, false
	}
	return Tables[i], true
}

// Band returns the age band of a whole age in years, "" for a negative age or one
// above 130.
func Band(age int) string {
	switch {
	case age < 0 || age > 130:
		return ""
	case age < 50:
		return "<50"
	case age < 60:
		return "50-59"
	case age < 70:
		return "60-69"
	case age < 80:
		return "70-79"
	case age < 90:
		return "80-89"
	}
	return "90+"
}

// Zones lists the sore-spot zones of an arch in the order of the contract, nil
// for an arch that does not exist.
func Zones(arch string) []string {
	switch arch {
	case "upper":
		return slices.Clone(upperZones)
	case "lower":
		return slices.Clone(lowerZones)
	}
	return nil
}
