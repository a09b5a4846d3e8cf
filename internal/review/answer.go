package review

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"strconv"
	"strings"

	"afterfit/internal/store"
	"afterfit/internal/tables"
	"afterfit/queries"
)

// About names the question's table and says what it answers.
func (q Question) About() tables.About {
	if q.query != "" {
		return tables.About{Name: q.Name, Text: q.Text + " (query " + q.query + ")"}
	}
	return tables.About{Name: q.Name, Text: q.Text}
}

// Answer answers one question into a sink, row by row; an unknown name is an error. A
// question that is cut from the findings takes them from found, or runs a review where
// that is nil.
func Answer(ctx context.Context, st *store.Store, s Settings, name string, found *Findings, into tables.Sink) error {
	for _, q := range Questions() {
		if q.Name != name {
			continue
		}
		if q.query != "" {
			if err := EnsureLinked(ctx, st, s); err != nil {
				return err
			}
			return plainAnswer(ctx, st, q.query, into)
		}
		rows, err := q.answer(ctx, st, s, found)
		if err != nil {
			return err
		}
		return put(q.columns, rows, into)
	}
	return fmt.Errorf("there is no question %q", name)
}

// Ask answers one question as a table.
func Ask(ctx context.Context, st *store.Store, s Settings, name string) (*tables.Table, error) {
	t := &tables.Table{}
	return t, Answer(ctx, st, s, name, nil, t)
}

// answer cuts the rows from the findings, or asks the store for them.
func (q Question) answer(ctx context.Context, st *store.Store, s Settings, found *Findings) ([][]any, error) {
	if q.rows == nil {
		if found == nil {
			var err error
			if found, err = Reviewed(ctx, st, s, Header{}, false); err != nil {
				return nil, err
			}
		}
		return q.table(found), nil
	}
	a, err := newAsker(ctx, st, s)
	if err != nil {
		return nil, err
	}
	defer a.close()
	return q.rows(a, ctx)
}

// put writes rows of values under their columns.
func put(names []string, rows [][]any, into tables.Sink) error {
	wide := make([][]any, len(rows))
	for i, r := range rows {
		wide[i] = spread(r)
	}
	if err := into.Head(columnsOf(names, wide)); err != nil {
		return err
	}
	for _, r := range wide {
		if err := into.Row(cells(r)); err != nil {
			return err
		}
	}
	return nil
}

// columnsOf gives each column the narrowest kind that holds all its values. Where a
// table has no rows, the columns of an estimate keep their kinds.
func columnsOf(names []string, rows [][]any) []tables.Column {
	out := make([]tables.Column, len(names))
	for i, name := range names {
		out[i].Name = name
		if len(rows) == 0 {
			out[i].Kind = map[string]tables.Kind{"value": tables.Number, "low": tables.Number, "high": tables.Number, "level": tables.Number, "n": tables.Whole, "events": tables.Whole}[name]
		}
		seen := map[tables.Kind]bool{}
		for _, r := range rows {
			if r[i] != "" {
				seen[kindOf(r[i])] = true
			}
		}
		switch {
		case seen[tables.Text]:
		case len(seen) == 1:
			for k := range seen {
				out[i].Kind = k
			}
		case len(seen) == 2 && !seen[tables.YesNo]:
			out[i].Kind = tables.Number
		}
	}
	return out
}

func kindOf(v any) tables.Kind {
	switch v.(type) {
	case int, int64:
		return tables.Whole
	case Num, float64:
		return tables.Number
	case bool:
		return tables.YesNo
	}
	return tables.Text
}

// spread puts the parts of an estimate in its place.
func spread(values []any) []any {
	out := make([]any, 0, len(values))
	for _, v := range values {
		if e, ok := v.(Estimate); ok {
			level := Num(math.NaN())
			if e.Level > 0 {
				level = Num(e.Level)
			}
			out = append(out, e.Value, e.Low, e.High, e.N, e.Events, e.Unit, e.TooFew, strings.Join(e.Warnings, " "), level, e.Query)
		} else {
			out = append(out, v)
		}
	}
	return out
}

// cells writes values as text, numbers as findings round them.
func cells(values []any) []string {
	out := make([]string, len(values))
	for i, v := range values {
		switch v := v.(type) {
		case Num:
			if v.Known() {
				out[i] = strconv.FormatFloat(float64(v), 'g', 9, 64)
			}
		default:
			out[i] = fmt.Sprint(v)
		}
	}
	return out
}

// plainAnswer runs a statement and hands on every value as text.
func plainAnswer(ctx context.Context, st *store.Store, name string, into tables.Sink) error {
	columns, err := plainColumns(ctx, st, name)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	rows, err := st.DB().QueryContext(ctx, "SELECT CAST(COLUMNS(*) AS VARCHAR) FROM ("+queries.Text(name)+")")
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	defer rows.Close()
	if err := into.Head(columns); err != nil {
		return err
	}
	values, row := make([]sql.NullString, len(columns)), make([]string, len(columns))
	dest := make([]any, len(values))
	for i := range values {
		dest[i] = &values[i]
	}
	for rows.Next() {
		if err := rows.Scan(dest...); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		for i, v := range values {
			row[i] = v.String
		}
		if err := into.Row(row); err != nil {
			return err
		}
	}
	return rows.Err()
}

// plainColumns are a statement's columns with their kinds.
func plainColumns(ctx context.Context, st *store.Store, name string) ([]tables.Column, error) {
	rows, err := st.DB().QueryContext(ctx, "SELECT * FROM ("+queries.Text(name)+") LIMIT 0")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	types, err := rows.ColumnTypes()
	if err != nil {
		return nil, err
	}
	out := make([]tables.Column, len(types))
	for i, t := range types {
		out[i] = tables.Column{Name: t.Name(), Kind: kindOfType(t.DatabaseTypeName())}
	}
	return out, rows.Err()
}

func kindOfType(name string) tables.Kind {
	switch name {
	case "TINYINT", "SMALLINT", "INTEGER", "BIGINT", "UTINYINT", "USMALLINT", "UINTEGER":
		return tables.Whole
	case "DOUBLE", "FLOAT", "DECIMAL":
		return tables.Number
	case "BOOLEAN":
		return tables.YesNo
	}
	return tables.Text
}
