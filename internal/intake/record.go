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

// outcomes counts for every file of a stage what became of its rows, and writes
// that into the ledger.
func (g *stage) outcomes(ctx context.Context, c *sql.Conn, load int64) ([]Outcome, error) {
	if g.sheet == nil {
		return nil, nil
	}
	list, err := g.countFiles(ctx, c)
	if err != nil {
		return nil, err
	}
	for _, f := range g.sheet.Rejected {
		i := slices.IndexFunc(list, func(o Outcome) bool { return o.File == f.File })
		if i < 0 {
			list, i = append(list, Outcome{File: f.File, Table: g.t.Name}), len(list)
		}
		list[i].Made++
		list[i].SetAside++
	}
	for i := range list {
		o := &list[i]
		if o.Made != o.Kept+o.SetAside+o.Repeats {
			return nil, fmt.Errorf("the balance of %s in %s does not hold: %d rows, %d kept, %d set aside, %d repeats; nothing was stored", o.Table, o.File, o.Made, o.Kept, o.SetAside, o.Repeats)
		}
		if _, err := exec(ctx, c, "INSERT INTO main.load_rows VALUES (?, ?, ?, ?, ?, ?, ?, ?)", load, o.File, o.Table, o.Made, o.Kept, o.Newer, o.SetAside, o.Repeats); err != nil {
			return nil, err
		}
	}
	return list, nil
}

func (g *stage) countFiles(ctx context.Context, c *sql.Conn) ([]Outcome, error) {
	newer, file := "false", "s.file"
	if !g.direct {
		newer = "s.case_id IN (SELECT case_id FROM temp.gone)"
		if g.t.Parent == "visits" {
			newer = "s.visit_id IN (SELECT visit_id FROM temp.st_visits WHERE case_id IN (SELECT case_id FROM temp.gone))"
		}
	}
	if !g.turned() {
		file = store.Quote(g.sheet.File)
	}
	rows, err := c.QueryContext(ctx, fmt.Sprintf(`SELECT %s AS file, count(*), count(*) FILTER (s.verdict IS NULL), count(*) FILTER (s.verdict IS NULL AND %s), count(*) FILTER (s.verdict > %d), count(*) FILTER (s.verdict = %d)
	FROM %s s GROUP BY 1 ORDER BY min(s.rec), 1`, file, newer, repeat, repeat, g.table()))
	if err != nil {
		return nil, err
	}
	list := []Outcome{}
	err = each(rows, func() error {
		o := Outcome{Table: g.t.Name, Reasons: []ReasonCount{}}
		defer func() { list = append(list, o) }()
		return rows.Scan(&o.File, &o.Made, &o.Kept, &o.Newer, &o.SetAside, &o.Repeats)
	})
	if err == nil && g.direct {
		list = g.addSoundFiles(list)
	}
	return list, err
}

// addSoundFiles counts the sound rows that went straight into the store.
func (g *stage) addSoundFiles(list []Outcome) []Outcome {
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
	for _, b := range l.files() {
		if _, err := exec(ctx, c, "INSERT INTO main.load_files VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", l.res.LoadID, b.String(), b.Source, b.Rows, b.Title, b.Header, b.Blank, b.Total, b.Used, b.LeftOut, b.NotMapped,
			strings.Join(b.Columns, "; ")); err != nil {
			return err
		}
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
