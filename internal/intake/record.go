package intake

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"afterfit/internal/mapping"
	"afterfit/internal/store"
)

// Outcome says what became of the rows that a file or sheet gave to a table:
// Made = Kept + SetAside + Repeats, always. Of a case bundle a file gives its rows
// as they stand.
type Outcome struct {
	File     string        `json:"file"`
	Table    string        `json:"table"`
	Made     int64         `json:"rows_made"`
	Kept     int64         `json:"kept"`
	Newer    int64         `json:"kept_of_newer_versions"` // of the kept, rows of cases that replace an older version
	SetAside int64         `json:"set_aside"`
	Repeats  int64         `json:"repeats"`
	Reasons  []ReasonCount `json:"set_aside_by_reason"`
}

// ReasonCount counts rows set aside for one reason, in the words of the export.
type ReasonCount struct {
	Column string `json:"column"`
	Reason string `json:"reason"`
	Rows   int64  `json:"rows"`
}

// withSound adds the sound rows that went straight into the store.
func (g *stage) withSound(list []Outcome) []Outcome {
	if !g.direct {
		return list
	}
	files := g.sheet.Sifted.files
	if !g.turned() {
		files = map[string]int64{g.sheet.File: g.sound()}
	}
	for _, file := range slices.Sorted(maps.Keys(files)) {
		i := slices.IndexFunc(list, func(o Outcome) bool { return o.File == file })
		if i < 0 {
			list, i = append(list, Outcome{File: file, Table: g.t.Name, Reasons: []ReasonCount{}}), len(list)
		}
		list[i].Made += files[file]
		list[i].Kept += files[file]
	}
	return list
}

// reasons counts the rows set aside of every outcome by their reason.
func reasons(ctx context.Context, c *sql.Conn, load int64, list []Outcome) error {
	rows, err := c.QueryContext(ctx, store.ReasonsQuery, load)
	if err != nil {
		return err
	}
	return each(rows, func() error {
		var file, table string
		var r ReasonCount
		var corrected int64
		if err := rows.Scan(&file, &table, &r.Column, &r.Reason, &r.Rows, &corrected); err != nil {
			return err
		}
		for i := range list {
			if list[i].File == file && list[i].Table == table {
				list[i].Reasons = append(list[i].Reasons, r)
			}
		}
		return nil
	})
}

// record writes into the ledger what the load was made of: mapping, files, and what
// its cases looked like.
func (l *loader) record(ctx context.Context, c *sql.Conn) error {
	var name, sum any
	if l.opt.Mapping != "" {
		name, sum = filepath.Base(l.opt.Mapping), l.mappingSHA
	}
	if _, err := exec(ctx, c, "INSERT INTO main.load_notes VALUES (?, ?, ?, ?)", l.res.LoadID, name, sum, l.res.Note.Adds); err != nil {
		return err
	}
	var files [][]any
	for _, b := range l.files() {
		files = append(files, []any{l.res.LoadID, b.String(), b.Source, b.Rows, b.Title, b.Header, b.Blank, b.Total, b.Used, b.LeftOut, b.NotMapped, strings.Join(b.Columns, "; ")})
	}
	if err := insertAll(ctx, c, "load_files", files); err != nil {
		return err
	}
	if l.res.Note.Adds {
		return nil
	}
	_, err := exec(ctx, c, "INSERT INTO main.seen SELECT ?, case_id, content FROM "+l.contentOf, l.res.LoadID)
	return err
}

// files accounts for the export's files: as the mapping did, or for a case bundle
// one file a table, all of whose records are used.
func (l *loader) files() []mapping.Balance {
	if l.res.Sources != nil {
		return l.res.Sources
	}
	var list []mapping.Balance
	for _, g := range l.stages {
		if g.sheet != nil {
			n := g.sheet.Records + int64(len(g.sheet.Rejected))
			list = append(list, mapping.Balance{SheetID: mapping.SheetID{File: g.sheet.File}, Source: g.t.Name, Rows: n + 1, Header: 1, Used: n})
		}
	}
	return list
}

// needs writes down which earlier loads this one builds on: those whose rows it
// counts as repeats, replaces, hangs its own rows on, or gives way to. None of them
// can be undone before this one.
func (l *loader) needs(ctx context.Context, c *sql.Conn) error {
	touched := "(SELECT case_id FROM temp.same UNION ALL SELECT case_id FROM temp.gone)"
	if l.res.Note.Adds {
		touched = "(SELECT case_id FROM temp.content)"
	}
	var parts []string
	for _, g := range l.stages {
		where := "case_id IN " + touched
		if g.t.Parent == "visits" {
			where = "visit_id IN (SELECT visit_id FROM main.visits WHERE case_id IN " + touched + " UNION ALL SELECT visit_id FROM temp.st_sore_spots)"
		}
		parts = append(parts, fmt.Sprintf("SELECT load_id FROM main.%s WHERE %s", g.t.Name, where))
		if g.t.Name == "visits" {
			parts = append(parts, fmt.Sprintf("SELECT m.load_id FROM main.visits m JOIN %s s USING (visit_id) WHERE s.verdict = %d", g.table(), takenKey))
		}
	}
	_, err := exec(ctx, c, fmt.Sprintf("INSERT INTO main.load_needs SELECT DISTINCT %d, load_id FROM (%s) ORDER BY ALL", l.res.LoadID, strings.Join(parts, " UNION ALL ")))
	return err
}

// corrected notes which rows that an earlier load set aside came back corrected: the
// bundle that they came out as says whose they are and where each stood.
func (l *loader) corrected(ctx context.Context, c *sql.Conn) error {
	if !l.res.Note.Adds || l.res.Note.Corrects == "" {
		return nil
	}
	for _, g := range l.stages {
		if g.sheet == nil || !contains(g.sheet.Header, AsideColumns[0]) || !contains(g.sheet.Header, AsideColumns[1]) || !contains(g.sheet.Header, AsideColumns[2]) {
			continue
		}
		n, err := exec(ctx, c, fmt.Sprintf(`INSERT INTO main.corrected SELECT DISTINCT %d, a.load_id, a.table_name, a.file, a.line, a.column_name
	FROM %s s JOIN %s r USING (rec) JOIN main.set_aside a ON a.table_name = '%s' AND a.file = r.set_aside_file AND a.line = TRY_CAST(r.set_aside_line AS BIGINT) AND a.column_name IS NOT DISTINCT FROM r.set_aside_column
	WHERE (s.verdict IS NULL OR s.verdict = %d) AND a.load_id IN (SELECT load_id FROM main.loads WHERE content_sha256 = ? AND %s) AND NOT %s ORDER BY ALL`,
			l.res.LoadID, g.table(), g.rawTable(), g.t.Name, repeat, store.Standing, store.IsCorrected), l.res.Note.Corrects)
		if err != nil {
			return err
		}
		l.res.Corrected += n
	}
	if _, err := exec(ctx, c, "INSERT INTO main.load_needs SELECT DISTINCT load_id, of_load FROM main.corrected WHERE load_id = ? EXCEPT SELECT * FROM main.load_needs", l.res.LoadID); err != nil {
		return err
	}
	q := "SELECT count(*) FROM main.set_aside a WHERE a.load_id IN (SELECT load_id FROM main.loads WHERE content_sha256 = ? AND " + store.Standing + ") AND NOT " + store.IsCorrected
	return c.QueryRowContext(ctx, q, l.res.Note.Corrects).Scan(&l.res.StillAside)
}

// mappingSum gives the SHA-256 of the mapping file, "" without one.
func mappingSum(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	if _, err := os.Stat(path); err != nil {
		return "", err
	}
	return fileSHA256(path)
}
