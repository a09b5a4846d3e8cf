package blank

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"

	"afterfit/internal/bundle"
)

// Limits of a check's texts in the workbook format.
const (
	maxTitle  = 32
	maxPrompt = 255
)

// check offers a column's codes, refuses what is outside its hard range, and says
// on selection what belongs there. Lists of several codes and ages beside bands are
// offered, not enforced; a key is offered from the sheet that it must stand in.
func (w *writer) check(t bundle.Table, c bundle.Column, column string) error {
	dv := excelize.NewDataValidation(true)
	dv.SetSqref(fmt.Sprintf("%s%d:%s%d", column, firstRow, column, lastRow))
	dv.SetInput(cut(label(t, c), maxTitle), cut(prompt(c), maxPrompt))
	var err error
	switch c.Kind {
	case bundle.Code:
		dv.SetSqrefDropList(w.lists[strings.Join(c.Codes, "|")])
		dv.SetError(excelize.DataValidationErrorStyleStop, "Not in the list", cut("Use one of: "+strings.Join(c.Codes, ", "), maxPrompt))
	case bundle.Codes, bundle.AgeBand:
		dv.SetSqrefDropList(w.lists[strings.Join(c.Codes, "|")])
		dv.ShowErrorMessage = false
	case bundle.Int, bundle.Day:
		err = dv.SetRange(c.Hard.Min, c.Hard.Max, excelize.DataValidationTypeWhole, excelize.DataValidationOperatorBetween)
		dv.SetError(excelize.DataValidationErrorStyleStop, "Out of range", fmt.Sprintf("Write a whole number from %g to %g.", c.Hard.Min, c.Hard.Max))
	case bundle.Length:
		if hard := rangeOf(c); hard != nil {
			err = dv.SetRange(hard.Min, hard.Max, excelize.DataValidationTypeDecimal, excelize.DataValidationOperatorBetween)
			dv.SetError(excelize.DataValidationErrorStyleStop, "Out of range", fmt.Sprintf("Write millimetres from %g to %g.", hard.Min, hard.Max))
		}
	default:
		if t.Parent != "" && c.Name == t.ParentBy {
			dv.SetSqrefDropList(fmt.Sprintf("%s!$A$%d:$A$%d", t.Parent, firstRow, lastRow))
			dv.SetError(excelize.DataValidationErrorStyleStop, "Not there", "It must stand on the sheet "+t.Parent+" first.")
		}
	}
	if err != nil {
		return err
	}
	return w.f.AddDataValidation(t.Name, dv)
}

// rangeOf is a column's hard range; a reading has the widest of its measures, and
// loading checks the measure's own.
func rangeOf(c bundle.Column) *bundle.Range {
	if c.Hard != nil || c.Name != "value_mm" {
		return c.Hard
	}
	var all *bundle.Range
	for _, measure := range []string{"vdr", "vdo", "lip"} {
		hard, _ := bundle.MeasureRanges(measure)
		if all == nil {
			all = &bundle.Range{Min: hard.Min, Max: hard.Max}
		}
		all.Min, all.Max = min(all.Min, hard.Min), max(all.Max, hard.Max)
	}
	return all
}

// prompt says what belongs into a cell.
func prompt(c bundle.Column) string {
	parts := []string{c.Meaning}
	if c.Soft != nil {
		parts = append(parts, fmt.Sprintf("usual %g to %g %s", c.Soft.Min, c.Soft.Max, c.Unit))
	}
	switch c.Kind {
	case bundle.Codes:
		parts = append(parts, "none, or several joined by |: "+strings.Join(c.Codes, ", "))
	case bundle.Period:
		parts = append(parts, "YYYY, YYYY-Qn, YYYY-MM or YYYY-MM-DD")
	case bundle.AgeBand:
		parts = append(parts, strings.Join(c.Codes, ", "))
	}
	if !c.Required {
		parts = append(parts, "empty = not recorded")
	}
	return strings.Join(parts, "; ")
}

func cut(s string, n int) string {
	if len(s) <= n {
		return s
	}
	return s[:n-3] + "..."
}
