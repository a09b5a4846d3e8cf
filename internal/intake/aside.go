package intake

import (
	"context"
	"database/sql"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"afterfit/internal/blank"
	"afterfit/internal/bundle"
	"afterfit/internal/mapping"
)

// Rows that were set aside come out as a bundle to correct: the contract's columns
// with what the export held, and behind them where the row stood and what is wrong
// with it. The bundle's note says adds = true, so that loading it joins its rows to
// the cases that the store has already.

// AsideColumns stand behind the contract's columns in such a bundle. A load reads
// over them.
var AsideColumns = []string{"set_aside_file", "set_aside_line", "set_aside_column", "set_aside_reason", "set_aside_text"}

// asideBook is the ending of a path that asks for a workbook instead of a folder.
const asideBook = ".xlsx"

// asideOut is a set-aside bundle on its way: written beside its place inside the
// load's transaction, renamed into it when the load is stored.
type asideOut struct {
	part, place string
	letGo       func() // of the lock on part, see scratch.go
}

func (o *asideOut) settle() error {
	if o == nil {
		return nil
	}
	defer o.letGo()
	return os.Rename(o.part, o.place)
}

func (o *asideOut) discard() {
	if o != nil {
		_ = os.RemoveAll(o.part) // the load's own error matters more
		o.letGo()
	}
}

// asideTable names the temporary table of a stage's rows set aside: rec, file,
// line, the column in the export's words and in the contract's, value and reason.
func (g *stage) asideTable() string { return "temp.aside_" + g.t.Name }

// writeAside writes the rows that this load sets aside, if it was asked to and
// there are any.
func (l *loader) writeAside(ctx context.Context, c *sql.Conn) error {
	if l.opt.SetAside == "" {
		return nil
	}
	rows, total := map[string][]blank.Row{}, 0
	for _, g := range l.stages {
		some, err := g.asideRows(ctx, c)
		if err != nil {
			return err
		}
		if len(some) > 0 {
			rows[g.t.Name] = some
			total += len(some)
		}
	}
	if total == 0 {
		return nil
	}
	n := l.res.Note
	note := [][2]string{{"name", strings.TrimSpace(n.Name + " (rows set aside)")}, {"basis", n.Basis}, {"invented", fmt.Sprint(n.Invented)}, {"adds", "true"}, {"corrects", l.sha}}
	l.res.SetAsideIn = l.opt.SetAside
	var err error
	l.aside, err = writeAsideTo(l.opt.SetAside, note, rows)
	if err != nil {
		return fmt.Errorf("cannot write the rows set aside to %s: %w", l.opt.SetAside, err)
	}
	return nil
}

// asideRows reads a stage's rows set aside, in the order of the file. Records that
// could not be cut into cells come last, as the text that stood there.
func (g *stage) asideRows(ctx context.Context, c *sql.Conn) ([]blank.Row, error) {
	if g.sheet == nil {
		return nil, nil
	}
	var out []blank.Row
	if g.asideNoted {
		some, err := g.asideCells(ctx, c)
		if err != nil {
			return nil, err
		}
		out = some
	}
	for i, f := range g.sheet.Rejected {
		text := ""
		if i < len(g.sheet.RejectedText) {
			text = g.sheet.RejectedText[i]
		}
		out = append(out, blank.Row{Cells: make([]string, len(g.t.Columns)), More: []string{f.File, fmt.Sprint(f.Line), "", f.Found + ": " + f.Remedy, text}})
	}
	return out, nil
}

func (g *stage) asideCells(ctx context.Context, c *sql.Conn) (out []blank.Row, err error) {
	cells := make([]string, len(g.t.Columns))
	for i, name := range g.t.Names() {
		cells[i] = raw(name)
		if g.turned() && contains(g.sheet.Turned.Texts, name) {
			cells[i] = fmt.Sprintf("CASE WHEN a.own = '%s' THEN coalesce(r.%s, r.%s) ELSE r.%[1]s END", name, name, mapping.SourceText+name)
		}
	}
	rows, err := c.QueryContext(ctx, fmt.Sprintf("SELECT %s, a.file, a.line::VARCHAR, a.word, a.reason, a.own FROM %s a JOIN %s r USING (rec) ORDER BY a.rec",
		strings.Join(cells, ", "), g.asideTable(), g.rawTable()))
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	texts := make([]sql.NullString, len(cells)+5)
	dest := make([]any, len(texts))
	for i := range texts {
		dest[i] = &texts[i]
	}
	for rows.Next() {
		if err := rows.Scan(dest...); err != nil {
			return nil, err
		}
		r := blank.Row{Wrong: texts[len(texts)-1].String}
		for i, t := range texts[:len(texts)-1] {
			if i < len(cells) {
				r.Cells = append(r.Cells, t.String)
			} else {
				r.More = append(r.More, t.String)
			}
		}
		r.More = append(r.More, "")
		out = append(out, r)
	}
	return out, rows.Err()
}

// writeAsideTo writes the bundle beside its place, readable by its owner alone.
func writeAsideTo(place string, note [][2]string, rows map[string][]blank.Row) (*asideOut, error) {
	dir := filepath.Dir(place)
	clearParts(dir)
	if strings.EqualFold(filepath.Ext(place), asideBook) {
		f, err := os.CreateTemp(dir, partName+"*")
		if err != nil {
			return nil, err
		}
		out := &asideOut{part: f.Name(), place: place, letGo: holdPart(f.Name())}
		return out, errors.Join(blank.Workbook(f, blank.Content{Note: note, Rows: rows, More: AsideColumns}), f.Close())
	}
	part, err := os.MkdirTemp(dir, partName+"*")
	if err != nil {
		return nil, err
	}
	out := &asideOut{part: part, place: place, letGo: holdPart(part)}
	for _, t := range bundle.Tables {
		if len(rows[t.Name]) > 0 {
			err = errors.Join(err, asideCSV(filepath.Join(part, t.Name+".csv"), t, rows[t.Name]))
		}
	}
	var text strings.Builder
	for _, kv := range note {
		value := fmt.Sprintf("%q", kv[1])
		if kv[1] == "true" || kv[1] == "false" {
			value = kv[1]
		}
		fmt.Fprintf(&text, "%s = %s\n", kv[0], value)
	}
	return out, errors.Join(err, os.WriteFile(filepath.Join(part, noteFile), []byte(text.String()), 0o600))
}

func asideCSV(path string, t bundle.Table, rows []blank.Row) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	w := csv.NewWriter(f)
	err = w.Write(append(t.Names(), AsideColumns...))
	for _, r := range rows {
		if err == nil {
			err = w.Write(append(append([]string{}, r.Cells...), r.More...))
		}
	}
	w.Flush()
	return errors.Join(err, w.Error(), f.Close())
}
