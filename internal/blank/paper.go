package blank

import (
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/reports"
)

// Sizes are the sheets of paper that the form fits.
var Sizes = []string{"A4", "Letter"}

// field is one thing to write or tick.
type field struct {
	Label, Unit string
	Ticks       []string
	Wide        bool
}

// gridColumn is a column of a table to fill in; Words are the codes to use in it.
type gridColumn struct {
	Label, Words string
	Width        int
}

type grid struct {
	Columns []gridColumn
	Rows    []struct{}
}

type arches struct {
	Arches []string
	Fields []field
}

type zones struct{ Arch, Words string }

type form struct {
	Size                             template.CSS
	Style                            template.CSS
	Case, Records, End               []field
	Trays, Dentures                  arches
	Readings, Visits, Spots, Remakes grid
	Zones                            []zones
}

// endColumns of cases are known only when observation ends: they stand on the
// aftercare side.
var endColumns = []string{"observed_to_day", "observed_end"}

// Paper writes the form of one case as HTML for a sheet of the given size (one of
// Sizes): records on one side, aftercare on the other.
func Paper(out io.Writer, size string) error {
	t, err := template.New("paper").Parse(reports.Paper)
	if err != nil {
		return err
	}
	if size != Sizes[0] && size != Sizes[1] {
		return fmt.Errorf("no form for paper of size %q", size)
	}
	f := form{Size: template.CSS(strings.ToLower(size)), Style: template.CSS(reports.PaperStyle)}
	f.Case, f.End = fieldsOf("cases", nil, endColumns), fieldsOf("cases", endColumns, nil)
	f.Records = fieldsOf("records", nil, []string{"case_id"})
	key := []string{"case_id", "arch"}
	both := []string{"Upper", "Lower"}
	f.Trays, f.Dentures = arches{both, fieldsOf("trays", nil, key)}, arches{both, fieldsOf("dentures", nil, key)}
	f.Readings = gridOf("readings", 3, []string{"case_id"}, nil)
	f.Visits = gridOf("visits", 6, []string{"case_id"}, map[string]int{"visit_id": 9, "day": 8, "arch": 9, "reason": 13, "adjusted": 9, "minutes": 9, "complaints": 28, "lesion_review": 15})
	f.Spots = gridOf("sore_spots", 7, nil, map[string]int{"visit_id": 15, "arch": 15, "zone": 40, "side": 15, "grade": 15})
	f.Remakes = gridOf("remakes", 2, []string{"case_id"}, nil)
	for _, arch := range []string{"upper", "lower"} {
		f.Zones = append(f.Zones, zones{arch, strings.Join(readable(bundle.Zones(arch)), ", ")})
	}
	return t.Execute(out, f)
}

// halfLine is about how many letters, a box counted as five, fit half a line.
const halfLine = 54

// fieldsOf lists the columns of a table: only those named, or all but some.
func fieldsOf(table string, only, but []string) []field {
	t, _ := bundle.Find(table)
	var fields []field
	for _, c := range t.Columns {
		if len(only) > 0 && !slices.Contains(only, c.Name) || slices.Contains(but, c.Name) {
			continue
		}
		f := field{Label: labels[t.Name][c.Name], Unit: unitOf(c), Ticks: readable(c.Codes)}
		f.Wide = len(f.Label)+len(strings.Join(f.Ticks, "     ")) > halfLine
		fields = append(fields, f)
	}
	return fields
}

// unitOf says in which unit a field is written.
func unitOf(c bundle.Column) string {
	switch {
	case c.Kind == bundle.Day:
		return "days"
	case c.Kind == bundle.Period:
		return "year, quarter or month"
	}
	return c.Unit
}

func gridOf(table string, rows int, but []string, widths map[string]int) grid {
	t, _ := bundle.Find(table)
	g := grid{Rows: make([]struct{}, rows)}
	for _, c := range t.Columns {
		if slices.Contains(but, c.Name) {
			continue
		}
		col := gridColumn{Label: labels[t.Name][c.Name], Width: widths[c.Name]}
		if col.Width == 0 {
			col.Width = 100 / (len(t.Columns) - len(but))
		}
		if unit := unitOf(c); unit != "" && c.Kind != bundle.Day {
			col.Label += " (" + unit + ")"
		}
		if c.Name != "zone" { // it has a list for each arch
			col.Words = strings.Join(readable(c.Codes), ", ")
		}
		if c.Name == "grade" {
			col.Words = c.Meaning
		}
		g.Columns = append(g.Columns, col)
	}
	return g
}

// readable writes codes with blanks; whoever types the form in picks the code.
func readable(codes []string) []string {
	out := make([]string, len(codes))
	for i, c := range codes {
		out[i] = strings.ReplaceAll(c, "_", " ")
	}
	return out
}
