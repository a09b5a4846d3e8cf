package intake

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/store"
)

// flag marks a kept row as unusual: an SQL condition on the row s in the store and its
// case c, the column to show and the rule in words. New stands for the condition that a
// row may belong to a case of this load.
type flag struct{ column, when, rule string }

const newRow = "{new}"

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
			flag{"remake_of", "s.remake_of IS NOT NULL AND s.remake_of NOT IN (SELECT case_id FROM main.cases WHERE case_id IN (SELECT remake_of FROM main.cases WHERE " + newRow + "))", "the case that this one remakes is not in the store"})
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
		flags = append(flags, flag{"day", "EXISTS (SELECT 1 FROM (SELECT * FROM main.dentures WHERE " + newRow + ") d WHERE d.case_id = s.case_id AND d.arch = s.arch AND s.day < d.delivered_day)", "before the delivery of the denture"})
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

// flagRows writes the flags of the rows that this load keeps, which are in the store by
// then. A flag is never a reason to leave a row out. One statement does it for all tables,
// as stage.store says.
func flagRows(ctx context.Context, c *sql.Conn, stages []*stage, load int64) (int64, error) {
	var odd, parts []string
	for _, g := range stages {
		if g.kept == 0 {
			continue
		}
		some, flags := g.flagParts(load)
		if len(flags) > 0 {
			odd, parts = append(odd, some), append(parts, flags...)
		}
	}
	if len(parts) == 0 {
		return 0, nil
	}
	return exec(ctx, c, "INSERT INTO main.flags WITH "+strings.Join(odd, ", ")+" "+strings.Join(parts, " UNION ALL "))
}

// flagParts is the SQL of a table's flags: that of the rows that are odd in themselves,
// looked for once, and a query for each flag.
func (g *stage) flagParts(load int64) (odd string, parts []string) {
	isNew := fmt.Sprintf("load_id = %d", load)
	if g.adds {
		isNew = "true"
	}
	plain := []string{"false"}
	for _, f := range flagsOf(g.t) {
		when, from := strings.ReplaceAll(f.when, newRow, isNew), "odd_"+g.t.Name+" s"
		if strings.Contains(when, "c.") {
			from = fmt.Sprintf("(SELECT * FROM main.%s WHERE load_id = %d) s JOIN (SELECT * FROM main.cases WHERE %s) c ON c.case_id = s.case_id", g.t.Name, load, isNew)
		} else {
			plain = append(plain, "("+when+")")
		}
		parts = append(parts, fmt.Sprintf("SELECT %d, %s, s.case_id, %s, %s, CAST(s.%s AS VARCHAR), %s FROM %s WHERE %s",
			load, store.Quote(g.t.Name), rowKey(g.t), store.Quote(f.column), f.column, store.Quote(f.rule), from, when))
	}
	odd = fmt.Sprintf("odd_%[1]s AS MATERIALIZED (SELECT * FROM main.%[1]s s WHERE load_id = %[2]d AND (%[3]s))", g.t.Name, load, strings.Join(plain, " OR "))
	return odd, parts
}
