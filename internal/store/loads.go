package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"
)

// LoadInfo is one load as the ledger has it.
type LoadInfo struct {
	LoadID    int64      `json:"load_id"`
	Source    string     `json:"source"`
	SHA256    string     `json:"content_sha256"`
	Basis     string     `json:"basis"`
	Invented  bool       `json:"invented"`
	Complete  bool       `json:"complete"`
	LoadedAt  *time.Time `json:"loaded_at,omitempty"`
	Mapping   string     `json:"mapping,omitempty"`
	MappingOf string     `json:"mapping_sha256,omitempty"` // SHA-256 of the mapping file
	Adds      bool       `json:"adds,omitempty"`
	Read      int64      `json:"rows_read"`
	Kept      int64      `json:"kept"`
	SetAside  int64      `json:"set_aside"`
	Corrected int64      `json:"set_aside_corrected"` // of these, since corrected
	Undone    bool       `json:"undone"`
	UndoneAt  *time.Time `json:"undone_at,omitempty"`
	BuildsOn  []int64    `json:"builds_on"` // earlier loads that it repeats, replaces or adds to
}

// IsCorrected is the condition that row a of set_aside came back corrected.
const IsCorrected = `EXISTS (SELECT 1 FROM main.corrected k WHERE k.of_load = a.load_id AND k.table_name = a.table_name AND k.file = a.file AND k.line = a.line AND k.column_name IS NOT DISTINCT FROM a.column_name)`

const loadColumns = `SELECT l.load_id, coalesce(l.source, ''), coalesce(l.content_sha256, ''), coalesce(l.basis, ''), coalesce(l.invented, false), coalesce(l.complete, false), l.loaded_at,
	coalesce(n.mapping, ''), coalesce(n.mapping_sha256, ''), coalesce(n.adds, false),
	coalesce((SELECT sum(rows_read) FROM main.balance b WHERE b.load_id = l.load_id), 0)::BIGINT, coalesce((SELECT sum(kept) FROM main.balance b WHERE b.load_id = l.load_id), 0)::BIGINT,
	coalesce((SELECT sum(set_aside) FROM main.balance b WHERE b.load_id = l.load_id), 0)::BIGINT, (SELECT count(*) FROM main.set_aside a WHERE a.load_id = l.load_id AND ` + IsCorrected + `),
	u.load_id IS NOT NULL, u.undone_at, coalesce((SELECT string_agg(DISTINCT on_load, ',' ORDER BY on_load) FROM main.load_needs d WHERE d.load_id = l.load_id), '')
	FROM main.loads l LEFT JOIN main.load_notes n USING (load_id) LEFT JOIN main.undone u USING (load_id)`

// Loads lists every load, the undone ones too, in order.
func (s *Store) Loads(ctx context.Context) ([]LoadInfo, error) {
	rows, err := s.db.QueryContext(ctx, loadColumns+" ORDER BY l.load_id")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	list := []LoadInfo{}
	for rows.Next() {
		l := LoadInfo{BuildsOn: []int64{}}
		var on string
		var at, undone sql.NullTime
		if err := rows.Scan(&l.LoadID, &l.Source, &l.SHA256, &l.Basis, &l.Invented, &l.Complete, &at, &l.Mapping, &l.MappingOf, &l.Adds,
			&l.Read, &l.Kept, &l.SetAside, &l.Corrected, &l.Undone, &undone, &on); err != nil {
			return nil, err
		}
		if at.Valid {
			l.LoadedAt = &at.Time
		}
		if undone.Valid {
			l.UndoneAt = &undone.Time
		}
		for _, word := range strings.Split(on, ",") {
			var n int64
			if _, err := fmt.Sscan(word, &n); err == nil {
				l.BuildsOn = append(l.BuildsOn, n)
			}
		}
		list = append(list, l)
	}
	return list, rows.Err()
}

// Explanation is all that the ledger has of one load.
type Explanation struct {
	LoadInfo
	Files    []FileInfo    `json:"files"`
	Rows     []RowsInfo    `json:"rows"`
	Tables   []Balance     `json:"balance"`
	Reasons  []ReasonInfo  `json:"set_aside_by_reason"`
	Cleared  []ClearedInfo `json:"cleared"`
	Replaced int64         `json:"cases_superseded"`       // cases of earlier loads whose rows this one moved to the history
	Since    int64         `json:"cases_superseded_since"` // cases of this load whose rows later loads moved there
	Needed   []int64       `json:"built_on_by"`            // standing loads that build on this one
	HasFiles bool          `json:"files_noted"`            // false for loads of programs that noted no files
}

// FileInfo accounts for the rows of a file or sheet, in its own terms.
type FileInfo struct {
	File      string `json:"file"`
	Source    string `json:"source"`
	Read      int64  `json:"rows_read"`
	Title     int64  `json:"title_rows"`
	Header    int64  `json:"header_rows"`
	Blank     int64  `json:"blank_rows"`
	Total     int64  `json:"total_rows"`
	Used      int64  `json:"used"`
	LeftOut   int64  `json:"left_out"`
	NotMapped int64  `json:"not_mapped"`
	Columns   string `json:"columns_not_mapped"`
}

// RowsInfo says what became of the rows that a file gave to a table.
type RowsInfo struct {
	File     string `json:"file"`
	Table    string `json:"table"`
	Made     int64  `json:"rows_made"`
	Kept     int64  `json:"kept"`
	Newer    int64  `json:"kept_of_newer_versions"`
	SetAside int64  `json:"set_aside"`
	Repeats  int64  `json:"repeats"`
}

// Balance accounts for the rows of one table in one load:
// Read = Kept + SetAside + Repeats, always. Superseded counts rows of earlier
// loads that this one moved to the history.
type Balance struct {
	Table      string `json:"table"`
	Read       int64  `json:"rows_read"`
	Kept       int64  `json:"kept"`
	SetAside   int64  `json:"set_aside"`
	Repeats    int64  `json:"repeats"`
	Superseded int64  `json:"superseded"`
}

// Holds reports whether nothing was lost.
func (b Balance) Holds() bool { return b.Read == b.Kept+b.SetAside+b.Repeats }

// ReasonInfo counts rows set aside for one reason.
type ReasonInfo struct {
	File      string `json:"file"`
	Table     string `json:"table"`
	Column    string `json:"column"`
	Reason    string `json:"reason"`
	Rows      int64  `json:"rows"`
	Corrected int64  `json:"corrected"`
}

// ClearedInfo is a finding of the privacy checks that a person cleared.
type ClearedInfo struct {
	Table  string `json:"table"`
	Column string `json:"column"`
	Kind   string `json:"kind"`
	Reason string `json:"reason"`
}

// Explain reads all that the ledger has of a load; nil if there is no such load.
func (s *Store) Explain(ctx context.Context, load int64) (*Explanation, error) {
	all, err := s.Loads(ctx)
	if err != nil {
		return nil, err
	}
	e := &Explanation{Files: []FileInfo{}, Rows: []RowsInfo{}, Tables: []Balance{}, Reasons: []ReasonInfo{}, Cleared: []ClearedInfo{}, Needed: []int64{}}
	for _, l := range all {
		if l.LoadID == load {
			e.LoadInfo = l
		}
	}
	if e.LoadID == 0 {
		return nil, nil
	}
	read := func(q string, dest func() []any, done func()) error {
		rows, err := s.db.QueryContext(ctx, q, load)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			if err := rows.Scan(dest()...); err != nil {
				return err
			}
			done()
		}
		return rows.Err()
	}
	var f FileInfo
	var r RowsInfo
	var b Balance
	var why ReasonInfo
	var k ClearedInfo
	var n int64
	for _, step := range []struct {
		q    string
		dest []any
		done func()
	}{
		{"SELECT file, source, rows_read, title, header, blank, total, used, left_out, not_mapped, columns_not_mapped FROM main.load_files WHERE load_id = ? ORDER BY rowid",
			[]any{&f.File, &f.Source, &f.Read, &f.Title, &f.Header, &f.Blank, &f.Total, &f.Used, &f.LeftOut, &f.NotMapped, &f.Columns}, func() { e.Files = append(e.Files, f) }},
		{"SELECT file, table_name, made, kept, newer, set_aside, repeats FROM main.load_rows WHERE load_id = ? ORDER BY rowid",
			[]any{&r.File, &r.Table, &r.Made, &r.Kept, &r.Newer, &r.SetAside, &r.Repeats}, func() { e.Rows = append(e.Rows, r) }},
		{"SELECT table_name, rows_read, kept, set_aside, repeats, superseded FROM main.balance WHERE load_id = ? ORDER BY rowid",
			[]any{&b.Table, &b.Read, &b.Kept, &b.SetAside, &b.Repeats, &b.Superseded}, func() { e.Tables = append(e.Tables, b) }},
		{ReasonsQuery, []any{&why.File, &why.Table, &why.Column, &why.Reason, &why.Rows, &why.Corrected}, func() { e.Reasons = append(e.Reasons, why) }},
		{"SELECT table_name, column_name, kind, reason FROM main.cleared WHERE load_id = ? ORDER BY ALL", []any{&k.Table, &k.Column, &k.Kind, &k.Reason}, func() { e.Cleared = append(e.Cleared, k) }},
		{dependents(), []any{&n}, func() { e.Needed = append(e.Needed, n) }},
		{fmt.Sprintf("SELECT count(DISTINCT case_id) FROM %s.cases WHERE superseded_by = ?", History), []any{&e.Replaced}, func() {}},
		{fmt.Sprintf("SELECT count(DISTINCT case_id) FROM %s.cases WHERE load_id = ?", History), []any{&e.Since}, func() {}},
	} {
		if err := read(step.q, func() []any { return step.dest }, step.done); err != nil {
			return nil, err
		}
	}
	e.HasFiles = len(e.Files) > 0
	return e, nil
}

// ReasonsQuery counts the rows that load $1 set aside by file, table, column and
// reason; a reason that names another line or a day counts with its like.
const ReasonsQuery = `SELECT a.file, a.table_name, coalesce(a.column_name, ''), regexp_replace(regexp_replace(a.reason, 'as line \d+', 'as another line'), 'number of the day [\d-]+:', 'number of a day:'), count(*), count(*) FILTER (` + IsCorrected + `)
	FROM main.set_aside a WHERE a.load_id = $1 GROUP BY ALL ORDER BY 5 DESC, 1, 2, 3, 4`
