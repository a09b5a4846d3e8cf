package mapping

import (
	"context"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
)

// tableBuild gathers the SQL of one table of the contract.
type tableBuild struct {
	t     bundle.Table
	out   Table
	parts []string // one SELECT for each turn of each fill
	texts map[string]bool
}

func (b *tableBuild) table() string { return "temp.mapped_" + b.t.Name }

// columns keeps the columns that at least one fill has, in the contract's order.
// Dentures always have their day of delivery, which other tables may count from.
func (b *tableBuild) columns(fills []Fill) {
	b.texts = map[string]bool{}
	b.out.Columns = nil
	for _, col := range b.t.Columns {
		used := b.t.Name == "dentures" && col.Name == "delivered_day"
		for _, f := range fills {
			if _, ok := f.Columns[col.Name]; ok {
				used = true
			}
		}
		if used {
			b.out.Columns = append(b.out.Columns, col.Name)
		}
	}
}

// addTurn adds the rows of one turn of one fill.
func (r *runner) addTurn(b *tableBuild, fill int, f Fill, turn string) error {
	t := r.turner(f, turn)
	origin := len(b.out.Words)
	p := r.pick(b.t.Name, fill, origin, f, t)
	r.picks[f.From] = append(r.picks[f.From], p)
	words := map[string]string{}
	var inner, outer []string
	whenProblem, whenReason := []string{"WHEN NOT case_known AND s_case_id IS NOT NULL THEN 'case_id'"}, []string{"WHEN NOT case_known AND s_case_id IS NOT NULL THEN " + lit(noSuchCase)}
	joins := map[dayMode]bool{}
	for _, name := range b.out.Columns {
		col, _ := b.t.Column(name)
		c := cell{src: "CAST(NULL AS VARCHAR)", val: "CAST(NULL AS VARCHAR)", plain: true}
		if spec, ok := f.Columns[name]; ok {
			c = t.cell(col, spec)
			words[name] = c.word
		}
		joins[c.mode] = true
		b.texts[name] = b.texts[name] || !c.plain
		value, reasons := outerValue(name, c)
		inner = append(inner, fmt.Sprintf("%s AS s_%s, %s AS p_%s", c.src, name, c.val, name))
		outer = append(outer, fmt.Sprintf("q.s_%[1]s, %[2]s AS v_%[1]s", name, value))
		if c.reason != "" {
			failed := fmt.Sprintf("s_%[1]s IS NOT NULL AND v_%[1]s IS NULL", name)
			whenProblem = append(whenProblem, fmt.Sprintf("WHEN %s THEN '%s'", failed, name))
			whenReason = append(whenReason, fmt.Sprintf("WHEN %s THEN %s", failed, reasons))
		}
	}
	if !joins[dateToDay] {
		whenProblem, whenReason = whenProblem[1:], whenReason[1:]
	}
	b.out.Words = append(b.out.Words, words)
	if joins[dateToDay] && !r.day0 {
		return Mistakes{r.m.mistake(fmt.Sprintf("%s.%d", b.t.Name, fill), "dates to be counted from the day of the records, which the mapping does not know to the day",
			`give records_on a column with whole dates, or name the date that is day 0: day0 = "..."`)}
	}
	from := fmt.Sprintf("(SELECT grid, line, %s FROM %s WHERE kind = 'data' AND %s AND %s) q", strings.Join(inner, ", "), r.tableOf(f), p.filter, p.filled)
	if joins[dateToDay] {
		from += " LEFT JOIN temp.day0 d ON d.case_id = q.p_case_id"
	}
	if joins[afterDeliver] {
		from += " LEFT JOIN temp.delivered e ON e.case_id = q.p_case_id AND e.arch = q.p_arch"
	}
	b.parts = append(b.parts, fmt.Sprintf("SELECT *, %s AS problem, %s AS reason FROM (SELECT %d AS origin, q.grid, q.line, %s%s FROM %s)",
		caseOf(whenProblem), caseOf(whenReason), origin, strings.Join(outer, ", "), helpers(joins), from))
	return nil
}

const noSuchCase = "no such row in cases: add it there or take this row out"

// helpers carries what the reasons of joined days look at.
func helpers(joins map[dayMode]bool) string {
	day0, delivered := "CAST(NULL AS DATE) AS day0, true AS case_known", "CAST(NULL AS INTEGER) AS delivered"
	if joins[dateToDay] {
		day0 = "d.day0 AS day0, d.case_id IS NOT NULL AS case_known"
	}
	if joins[afterDeliver] {
		delivered = "e.day AS delivered"
	}
	return ", " + day0 + ", " + delivered
}

func caseOf(whens []string) string {
	if len(whens) == 0 {
		return "CAST(NULL AS VARCHAR)"
	}
	return "CASE " + strings.Join(whens, " ") + " END"
}

// outerValue finishes a value with what other tables know, and gives the SQL of
// the reason where that fails.
func outerValue(name string, c cell) (value, reason string) {
	switch c.mode {
	case dateToDay:
		return fmt.Sprintf("CAST(date_diff('day', d.day0, q.p_%s) AS VARCHAR)", name),
			"CASE WHEN day0 IS NULL THEN 'counted from the records of its case, which have no date: fill in or correct the date of the records' ELSE " + lit(c.reason) + " END"
	case afterDeliver:
		return fmt.Sprintf("CAST(q.p_%s + e.day AS VARCHAR)", name),
			"CASE WHEN delivered IS NULL THEN 'counted from the delivery of this denture, which has no day: fill it in or correct it' ELSE " + lit(c.reason) + " END"
	}
	return "q.p_" + name, lit(c.reason)
}

// create makes the table of turned rows.
func (b *tableBuild) create() string {
	if len(b.parts) == 0 {
		cols := "origin INTEGER, grid INTEGER, line BIGINT, problem VARCHAR, reason VARCHAR"
		for _, name := range b.out.Columns {
			cols += ", s_" + name + " VARCHAR, v_" + name + " VARCHAR"
		}
		return "CREATE OR REPLACE TEMP TABLE mapped_" + b.t.Name + " (" + cols + ")"
	}
	return "CREATE OR REPLACE TEMP TABLE mapped_" + b.t.Name + " AS " + strings.Join(b.parts, " UNION ALL ")
}

// problemText is the SQL of the source's text in the column that has a problem.
func (b *tableBuild) problemText() string {
	var whens []string
	for _, name := range b.out.Columns {
		whens = append(whens, fmt.Sprintf("WHEN '%s' THEN s_%s", name, name))
	}
	return "CASE problem " + strings.Join(whens, " ") + " END"
}

// unknown lists the words without a code, and writes how many rows have each
// into the reasons.
func (r *runner) unknown(ctx context.Context, b *tableBuild) error {
	coded := fmt.Sprintf("reason LIKE '%%%s%%'", strings.ReplaceAll(countMark, "%", `\%`))
	rows, err := r.c.QueryContext(ctx, fmt.Sprintf("SELECT problem, %s, count(*) FROM %s WHERE %s ESCAPE '\\' GROUP BY ALL ORDER BY 3 DESC, 1, 2", b.problemText(), b.table(), coded))
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		u := UnknownCode{Table: b.t.Name}
		if err := rows.Scan(&u.Column, &u.Word, &u.Rows); err != nil {
			return err
		}
		r.out.Unknown = append(r.out.Unknown, u)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	return r.exec(ctx, fmt.Sprintf(`UPDATE %[1]s AS m SET reason = replace(m.reason, '%[2]s', k.n || CASE WHEN k.n = 1 THEN ' row' ELSE ' rows' END) FROM (SELECT problem, %[3]s AS word, count(*) AS n FROM %[1]s WHERE problem IS NOT NULL GROUP BY ALL) k
	WHERE k.problem = m.problem AND k.word = %[4]s`, b.table(), countMark, b.problemText(), strings.ReplaceAll(b.problemText(), "CASE problem", "CASE m.problem")))
}

// copy writes the table as the loader reads it. Where a value could not be made,
// the source's own text stands in its place, so that nothing is lost in silence.
func (b *tableBuild) copy(grids []Grid) string {
	var out []string
	for _, name := range b.out.Columns {
		out = append(out, fmt.Sprintf("coalesce(v_%[1]s, s_%[1]s) AS %[1]s", name))
	}
	file := "CASE grid"
	for i, g := range grids {
		file += fmt.Sprintf(" WHEN %d THEN %s", i, lit(g.String()))
	}
	out = append(out, file+" END AS "+FileColumn, "line AS "+LineColumn, "origin AS "+OriginColumn, "problem AS "+ProblemColumn, "reason AS "+ReasonColumn)
	for _, name := range b.out.Columns {
		if b.texts[name] {
			b.out.Texts = append(b.out.Texts, name)
			out = append(out, "s_"+name+" AS "+SourceText+name)
		}
	}
	return fmt.Sprintf(`COPY (SELECT %s FROM %s ORDER BY grid, line, origin) TO %s (FORMAT csv, HEADER true, DELIMITER ',', QUOTE '"', ESCAPE '"', NULLSTR '')`, strings.Join(out, ", "), b.table(), lit(b.out.Path))
}
