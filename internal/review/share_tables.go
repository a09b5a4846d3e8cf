package review

import "afterfit/internal/tables"

// SharedTable is a table of a share form, for taking along.
type SharedTable struct {
	tables.About
	columns []string
	rows    [][]any
}

// Fill writes the table.
func (t SharedTable) Fill(into tables.Sink) error { return put(t.columns, t.rows, into) }

// Tables are the tables of a share form; a hidden figure is a row without numbers.
func (s *Shared) Tables() []SharedTable {
	figure := []string{"value", "low", "high", "level", "n", "unit", "method", "query"}
	cellsOf := func(f *SharedFigure) []any {
		if f == nil {
			return []any{"", "", "", "", "", "hidden", "", ""}
		}
		return []any{f.Value, f.Low, f.High, Num(f.Level), f.N, f.Unit, f.Method, f.Query}
	}
	overall := SharedTable{About: tables.About{Name: "overall", Text: "every outcome in all"}, columns: append([]string{"outcome"}, figure...)}
	for _, v := range s.Overall {
		overall.rows = append(overall.rows, append([]any{v.Outcome}, cellsOf(v.Figure)...))
	}
	groups := SharedTable{About: tables.About{Name: "groups", Text: "outcomes by arch, site, ridge class, year, what was recorded, and place"}, columns: append([]string{"outcome", "dimension", "code"}, figure...)}
	for _, g := range s.Groups {
		for _, v := range g.Values {
			groups.rows = append(groups.rows, append([]any{g.Outcome, g.Dimension, v.Code}, cellsOf(v.Figure)...))
		}
	}
	findings := SharedTable{About: tables.About{Name: "findings", Text: "habits and outcomes: the ratio within clinicians, n cut down to one digit"}, columns: append([]string{"hypothesis", "habit", "outcome", "grade"}, figure...)}
	for _, f := range s.Findings {
		findings.rows = append(findings.rows, append([]any{f.ID, f.Habit, f.Outcome, string(f.Grade)}, cellsOf(&f.Ratio)...))
	}
	hidden := SharedTable{About: tables.About{Name: "hidden", Text: "how many figures are hidden in which table"}, columns: []string{"outcome", "dimension", "figures", "of"}}
	for _, h := range s.Hidden {
		hidden.rows = append(hidden.rows, []any{h.Outcome, h.Dimension, h.Figures, h.Of})
	}
	left := SharedTable{About: tables.About{Name: "left-out", Text: "what the house has and the share form has not, and why"}, columns: []string{"what", "why"}}
	for _, l := range s.LeftOut {
		left.rows = append(left.rows, []any{l.What, l.Why})
	}
	return []SharedTable{overall, groups, findings, hidden, left}
}
