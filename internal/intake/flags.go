package intake

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/store"
)

// flag marks a kept row as unusual: an SQL condition on the staged row s and its
// case c, the column to show and the rule in words.
type flag struct{ column, when, rule string }

// flagsOf lists the flags of a table: soft ranges, and what is odd between columns.
func flagsOf(t bundle.Table) []flag {
	var flags []flag
	for _, col := range t.Columns {
		if col.Soft != nil {
			flags = append(flags, flag{col.Name, outside("s."+col.Name, *col.Soft), softRule(*col.Soft, col.Unit)})
		}
	}
	switch t.Name {
	case "cases":
		flags = append(flags,
			flag{"remake_of", "s.remake_of = s.case_id", "a case cannot remake itself"},
			flag{"remake_of", "s.remake_of NOT IN (SELECT case_id FROM temp.st_cases WHERE verdict IS NULL UNION SELECT case_id FROM main.cases)", "the case that this one remakes is not in the store"})
	case "dentures":
		flags = append(flags, flag{"delivered_day", "s.delivered_day > c.observed_to_day", "delivered after the end of observation"})
	case "records":
		flags = append(flags, flag{"vdo_mm", "s.vdo_mm > s.vdr_mm", "vertical of occlusion above the vertical of rest"})
	case "readings":
		for _, m := range []string{"vdr", "vdo", "lip"} {
			_, soft := bundle.MeasureRanges(m)
			flags = append(flags, flag{"value_mm", "s.measure = " + store.Quote(m) + " AND " + outside("s.value_mm", *soft), softRule(*soft, "mm")})
		}
	case "trays":
		flags = append(flags, flag{"palate_mm", "s.arch = 'lower' AND s.palate_mm IS NOT NULL", "a palate in the lower arch"})
	case "visits", "remakes":
		flags = append(flags, flag{"day", "s.day > c.observed_to_day", "after the end of observation"})
	}
	if t.Name == "remakes" {
		flags = append(flags, flag{"day", "EXISTS (SELECT 1 FROM temp.st_dentures d WHERE d.verdict IS NULL AND d.case_id = s.case_id AND d.arch = s.arch AND s.day < d.delivered_day)", "before the delivery of the denture"})
	}
	return flags
}

func softRule(r bundle.Range, unit string) string {
	return strings.TrimSpace(fmt.Sprintf("outside the usual %g to %g %s", r.Min, r.Max, unit))
}

// rowKey is the SQL that names a row in the ledger, its parts joined by "|".
func rowKey(t bundle.Table) string {
	key := t.Key
	if len(key) == 0 {
		key = t.Names()[:3]
	}
	return "concat_ws('|', s." + strings.Join(key, ", s.") + ")"
}

// flagRows writes the flags of the rows that this load keeps. A flag is never a
// reason to leave a row out.
func (g *stage) flagRows(ctx context.Context, c *sql.Conn, load int64) (int64, error) {
	var parts []string
	for _, f := range flagsOf(g.t) {
		parts = append(parts, fmt.Sprintf("SELECT %d, %s, s.case_id, %s, %s, CAST(s.%s AS VARCHAR), %s FROM %s s JOIN %s c ON c.case_id = s.case_id WHERE s.verdict IS NULL AND (%s)",
			load, store.Quote(g.t.Name), rowKey(g.t), store.Quote(f.column), f.column, store.Quote(f.rule), g.table(), g.casesFor(), f.when))
	}
	if len(parts) == 0 {
		return 0, nil
	}
	return exec(ctx, c, "INSERT INTO main.flags "+strings.Join(parts, " UNION ALL "))
}
