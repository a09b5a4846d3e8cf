package intake

import (
	"context"
	"database/sql"
	"slices"

	"afterfit/internal/mapping"
	"afterfit/internal/privacy"
)

// screenLook looks through every column of a sheet that is only looked at, as
// strictly as the strictest basis asks, and leaves of what could identify people
// only its shape: in the look, and so in the mapping that is proposed from it.
func screenLook(ctx context.Context, c *sql.Conn, look *mapping.SheetLook) ([]privacy.Finding, error) {
	for i, text := range look.Title {
		look.Title[i] = privacy.SafeHeader(text)
	}
	for i, text := range look.Totals {
		look.Totals[i] = privacy.SafeHeader(text)
	}
	cols := make([]screened, len(look.Columns))
	for i := range look.Columns {
		cols[i] = screened{privacy.Column{Table: look.String(), File: look.String(), Name: headerWord(look.Columns[i].Word)}, "r." + look.Cell(i)}
	}
	by, err := screenAll(ctx, c, privacy.Unstated, look.Table(), look.Rows, cols)
	if err != nil {
		return nil, err
	}
	var all []privacy.Finding
	for i := range look.Columns {
		col, found := &look.Columns[i], by[i]
		for j := range found {
			found[j].Column = privacy.SafeHeader(col.Word)
		}
		hideColumn(col, found)
		all = append(all, found...)
	}
	return all, nil
}

// hideColumn masks the values that a look has of a column with findings. Of dates
// and ages the range of numbers may stay: it is no person's.
func hideColumn(col *mapping.ColumnLook, found []privacy.Finding) {
	col.Word = privacy.SafeHeader(col.Word)
	if len(found) == 0 {
		return
	}
	col.Masked = true
	for i := range col.Odd {
		col.Odd[i].Value = privacy.Mask(col.Odd[i].Value)
	}
	col.Values = nil
	if slices.ContainsFunc(found, func(f privacy.Finding) bool { return f.Kind != privacy.Date && f.Kind != privacy.Age }) {
		col.Low, col.High = 0, 0
	}
}
