package mapping

import (
	"context"
	"fmt"
	"slices"
	"strings"
)

// Balance accounts for every row of one file or sheet in its own terms:
// Rows = Title + Header + Blank + Total + Used + LeftOut + NotMapped, always.
type Balance struct {
	SheetID
	Source    string   `json:"source"` // of the mapping; "" for a sheet that it does not name
	Rows      int64    `json:"rows_read"`
	Title     int64    `json:"title_rows"`  // above the header
	Header    int64    `json:"header_rows"` // the header and its repeats
	Blank     int64    `json:"blank_rows"`
	Total     int64    `json:"total_rows"` // that the mapping says to skip
	Used      int64    `json:"used"`       // at least one table has something of it
	LeftOut   int64    `json:"left_out"`   // no filter of any table takes it
	NotMapped int64    `json:"not_mapped"` // of a sheet that the mapping does not name
	Uses      []Use    `json:"uses"`
	Columns   []string `json:"columns_not_mapped"`
}

// Use says what one table made of the data rows of a sheet:
// data rows x Turns = Made + Empty + Filtered, always.
type Use struct {
	Table    string `json:"table"`
	Turns    int64  `json:"turns"` // sideways columns per row, else 1
	Made     int64  `json:"rows_made"`
	Empty    int64  `json:"empty"`    // sideways columns with nothing in them
	Filtered int64  `json:"filtered"` // that the filter does not take
}

// Data counts the rows that hold data.
func (b Balance) Data() int64 { return b.Used + b.LeftOut }

// Holds reports whether every row, and every turn of it, is accounted for.
func (b Balance) Holds() bool {
	for _, u := range b.Uses {
		if b.Data()*u.Turns != u.Made+u.Empty+u.Filtered {
			return false
		}
	}
	return b.Rows == b.Title+b.Header+b.Blank+b.Total+b.Used+b.LeftOut+b.NotMapped
}

// balance counts, from the grids as read and from the tables as made, what became
// of every row, and fails if the two do not agree.
func (r *runner) balance(ctx context.Context, rest []Grid) error {
	for i, g := range r.grids {
		b := Balance{SheetID: g.SheetID, Rows: g.Rows + g.Blank, Uses: []Use{}, Columns: []string{}}
		if err := r.account(ctx, i, &b); err != nil {
			return err
		}
		r.out.Balance = append(r.out.Balance, b)
	}
	for _, g := range rest {
		r.out.Balance = append(r.out.Balance, Balance{SheetID: g.SheetID, Rows: g.Rows + g.Blank, Blank: g.Blank, NotMapped: g.Rows, Uses: []Use{}, Columns: []string{}})
	}
	for _, b := range r.out.Balance {
		if !b.Holds() {
			return fmt.Errorf("the balance of %s does not hold: %d rows read, %d title, %d header, %d blank, %d total, %d used, %d left out, %d not mapped, %+v; nothing was stored",
				b.SheetID, b.Rows, b.Title, b.Header, b.Blank, b.Total, b.Used, b.LeftOut, b.NotMapped, b.Uses)
		}
	}
	return r.madeEqualsWritten()
}

// madeEqualsWritten compares what the sheets say they gave with what was written.
func (r *runner) madeEqualsWritten() error {
	for _, t := range r.out.Tables {
		made := int64(0)
		for _, b := range r.out.Balance {
			for _, u := range b.Uses {
				if u.Table == t.Name {
					made += u.Made
				}
			}
		}
		if made != t.Rows {
			return fmt.Errorf("the balance of %s does not hold: %d rows came of the export, %d were written; nothing was stored", t.Name, made, t.Rows)
		}
	}
	return nil
}

// account fills the balance of one grid.
func (r *runner) account(ctx context.Context, grid int, b *Balance) error {
	b.Source = r.owners[grid]
	src := sourceTable(slices.Index(r.sources, b.Source))
	picks := r.picks[b.Source]
	taken := []string{"false"}
	for _, p := range picks {
		taken = append(taken, "("+p.filter+" AND "+p.filled+")")
	}
	count := func(kind string) string { return fmt.Sprintf("count(*) FILTER (kind = '%s')", kind) }
	q := fmt.Sprintf("SELECT %s, %s, %s, %s, count(*) FILTER (kind = 'data' AND NOT (%s)) FROM %s WHERE grid = %d",
		count("title"), count("header"), count("blank"), count("total"), strings.Join(taken, " OR "), src, grid)
	if err := r.c.QueryRowContext(ctx, q).Scan(&b.Title, &b.Header, &b.Blank, &b.Total, &b.LeftOut); err != nil {
		return err
	}
	b.Blank += r.grids[grid].Blank
	if err := r.c.QueryRowContext(ctx, r.usedQuery(picks, grid)).Scan(&b.Used); err != nil {
		return err
	}
	h := r.heads[grid]
	for _, w := range h.words {
		if _, ok := r.column[b.Source+"\n"+fold(w)]; !ok {
			if _, first := r.column[b.Source+"\n"+fold(w)+"#1"]; !first {
				b.Columns = append(b.Columns, r.m.safely([]string{w})...)
			}
		}
	}
	return r.uses(ctx, grid, src, picks, b)
}

// usedQuery counts the rows of a grid that stand behind any row made.
func (r *runner) usedQuery(picks []pick, grid int) string {
	parts := []string{"SELECT CAST(NULL AS BIGINT) AS line"}
	for _, p := range picks {
		parts = append(parts, fmt.Sprintf("SELECT line FROM temp.mapped_%s WHERE origin = %d AND grid = %d", p.table, p.origin, grid))
	}
	return "SELECT count(DISTINCT line) FROM (" + strings.Join(parts, " UNION ALL ") + ")"
}

// uses counts for every fill what its turns made of the grid's rows.
func (r *runner) uses(ctx context.Context, grid int, src string, picks []pick, b *Balance) error {
	for at := 0; at < len(picks); {
		end := at
		var empty, filtered, origins []string
		for end < len(picks) && picks[end].table == picks[at].table && picks[end].fill == picks[at].fill {
			p := picks[end]
			empty = append(empty, fmt.Sprintf("count(*) FILTER (NOT %s)", p.filled))
			filtered = append(filtered, fmt.Sprintf("count(*) FILTER (%s AND NOT %s)", p.filled, p.filter))
			origins = append(origins, fmt.Sprint(p.origin))
			end++
		}
		u := Use{Table: picks[at].table, Turns: int64(end - at)}
		q := fmt.Sprintf("SELECT (SELECT count(*) FROM temp.mapped_%s WHERE grid = %d AND origin IN (%s)), %s, %s FROM %s WHERE grid = %d AND kind = 'data'",
			u.Table, grid, strings.Join(origins, ", "), strings.Join(empty, " + "), strings.Join(filtered, " + "), src, grid)
		if err := r.c.QueryRowContext(ctx, q).Scan(&u.Made, &u.Empty, &u.Filtered); err != nil {
			return err
		}
		b.Uses = append(b.Uses, u)
		at = end
	}
	return nil
}
