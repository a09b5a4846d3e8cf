package bundle

import (
	"fmt"
	"io"
	"strings"
)

// String names the kind as the help text does.
func (k Kind) String() string {
	switch k {
	case Code:
		return "code"
	case Codes:
		return "codes"
	case Int:
		return "int"
	case Day:
		return "day"
	case Length:
		return "mm"
	case Period:
		return "period"
	case AgeBand:
		return "age band"
	}
	return "text"
}

// Describe writes the whole contract for people: every table and column with its
// type, need, ranges, codes and meaning.
func Describe(w io.Writer) error {
	var b strings.Builder
	b.WriteString("A case bundle is a folder of CSV files, one per table, named after the table.\n" +
		"Day 0 is the day the records were taken. An empty cell means not recorded.\n")
	for _, t := range Tables {
		need := "required"
		if !t.Required {
			need = "optional"
		}
		fmt.Fprintf(&b, "\n%s.csv (%s): %s\n", t.Name, need, t.Meaning)
		if t.Parent != "" {
			fmt.Fprintf(&b, "  every %s must stand in %s\n", t.ParentBy, t.Parent)
		}
		for _, c := range t.Columns {
			fmt.Fprintf(&b, "  %-18s %-9s %s\n", c.Name, c.Kind, c.describe())
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (c Column) describe() string {
	var parts []string
	if c.Required {
		parts = append(parts, "required")
	}
	if c.Hard != nil {
		parts = append(parts, fmt.Sprintf("%g to %g", c.Hard.Min, c.Hard.Max))
	}
	if c.Soft != nil {
		parts = append(parts, fmt.Sprintf("flagged outside %g to %g", c.Soft.Min, c.Soft.Max))
	}
	parts = append(parts, c.Meaning)
	if len(c.Codes) > 0 {
		parts = append(parts, strings.Join(c.Codes, " "))
	}
	return strings.Join(parts, "; ")
}
