package intake

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/mapping"
	"afterfit/internal/privacy"
	"afterfit/internal/sheets"
	"afterfit/internal/store"
)

// mapped is an export that a mapping turns into the contract's tables.
type mapped struct {
	note   Note
	book   *sheets.Book // closed
	turned *mapping.Turned
	screen *rawScreen
}

func (s *mapped) Unchanged() error { return asBadData(s.book.Unchanged()) }

// wrongMapping is a mapping that is wrong by itself or does not fit the export.
type wrongMapping struct{ error }

func (w wrongMapping) Unwrap() error { return w.error }

// Is reports that a wrong mapping is bad data: nothing was loaded.
func (w wrongMapping) Is(target error) bool { return target == ErrBadData }

// openWith opens an export, through a mapping if its path is not empty. Scratch
// is a private folder that lives as long as the load.
func openWith(ctx context.Context, path, mappingPath, scratch string, p Progress) (Source, error) {
	if mappingPath == "" {
		return Open(ctx, path, scratch)
	}
	m, err := readMapping(mappingPath)
	if err != nil {
		return nil, err
	}
	return openMapped(ctx, path, m, scratch, true, p)
}

func readMapping(path string) (*mapping.Mapping, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, Fault{File: path, Found: "no mapping that can be read (" + err.Error() + ")", Remedy: "check the path of the mapping; 'afterfit look EXPORT --propose FILE' writes one to start from"}
	}
	m, err := mapping.Parse(filepath.Base(path), text)
	if err != nil {
		return nil, wrongMapping{err}
	}
	return m, checkCleared(m)
}

// openMapped reads the sheets of an export and turns them. That happens in a
// database of its own, in memory, which is gone before the store is touched. What
// the privacy checks find in any column refuses the export before it is turned,
// or is only gathered.
func openMapped(ctx context.Context, path string, m *mapping.Mapping, scratch string, refuse bool, p Progress) (src *mapped, err error) {
	book, err := sheets.Open(ctx, path, scratch)
	if err != nil {
		return nil, asBadData(err)
	}
	chosen, rest, err := chosenGrids(ctx, book, m, p)
	err = errors.Join(err, book.Close())
	if err != nil {
		return nil, err
	}
	src = &mapped{book: book, note: Note{Name: m.Export.Name, Basis: m.Export.Basis, Invented: m.Export.Invented, Complete: m.Export.Complete, Cleared: clearedIn(m)}}
	src.screen = &rawScreen{basis: privacy.Basis(m.Export.Basis), cleared: m.Cleared, mapping: m.File()}
	err = inMemory(ctx, scratch, func(ctx context.Context, c *sql.Conn) (err error) {
		screen := func(ctx context.Context, raws []mapping.Raw) error {
			if err := src.screen.sheets(ctx, c, raws, p); err != nil || !refuse {
				return err
			}
			return src.screen.refusal()
		}
		src.turned, err = mapping.Run(ctx, c, m, chosen, rest, scratch, mapping.Hooks{Screen: screen, Safe: privacy.SafeHeader, Turned: func(done, total int) { p.at("turning", int64(done), int64(total)) }})
		return err
	})
	return src, asBadData(err)
}

// inMemory runs f in a database that is forgotten afterwards.
func inMemory(ctx context.Context, scratch string, f func(context.Context, *sql.Conn) error) (err error) {
	st, err := store.Scratch(ctx, store.Options{TempDir: scratch})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	return st.Tx(ctx, f)
}

// asBadData marks what is wrong with an export or a mapping as bad data.
func asBadData(err error) error {
	var mistakes mapping.Mistakes
	if errors.As(err, &mistakes) {
		return wrongMapping{mistakes}
	}
	var fault *sheets.Fault
	if errors.As(err, &fault) {
		return Fault{File: mapping.SheetID{File: fault.File, Sheet: fault.Sheet}.String(), Line: fault.Line, Found: fault.Found, Remedy: fault.Remedy}
	}
	return err
}

// chosenGrids reads the sheets that the mapping names, and the others too: their
// rows are counted as not mapped.
func chosenGrids(ctx context.Context, book *sheets.Book, m *mapping.Mapping, p Progress) (chosen map[string][]mapping.Grid, rest []mapping.Grid, err error) {
	infos := book.Sheets()
	ids := make([]mapping.SheetID, len(infos))
	for i, info := range infos {
		ids[i] = mapping.SheetID{File: info.File, Sheet: info.Sheet}
	}
	which, err := m.Choose(ids)
	if err != nil {
		return nil, nil, asBadData(err)
	}
	owner := map[int]string{}
	for name, list := range which {
		for _, i := range list {
			owner[i] = name
		}
	}
	chosen = map[string][]mapping.Grid{}
	for i := range infos {
		p.at("reading", int64(i), int64(len(infos)))
		src := m.Sources[owner[i]]
		delimiter, _ := firstRune(src.Delimiter)
		g, err := book.Grid(ctx, i, sheets.Override{Encoding: src.Encoding, Delimiter: delimiter})
		if err != nil {
			return nil, nil, asBadData(err)
		}
		if owner[i] == "" {
			rest = append(rest, asGrid(g))
		} else {
			chosen[owner[i]] = append(chosen[owner[i]], asGrid(g))
		}
	}
	return chosen, rest, asBadData(book.Unchanged())
}

func firstRune(s string) (rune, bool) {
	for _, r := range s {
		return r, true
	}
	return 0, false
}

// asGrid hands a sheet to the mapping, which knows nothing of files.
func asGrid(g *sheets.Grid) mapping.Grid {
	out := mapping.Grid{SheetID: mapping.SheetID{File: g.File, Sheet: g.Sheet}, Format: g.Format, Path: g.Path, Width: g.Width, Rows: g.Rows, Blank: g.Blank, Encoding: g.Encoding}
	if g.Delimiter != 0 {
		out.Delimiter = string(g.Delimiter)
	}
	for i, cells := range g.Head {
		out.Head = append(out.Head, mapping.Line{Number: g.HeadLines[i], Cells: cells})
	}
	return out
}

func (m *mapped) Note() Note { return m.note }

func (m *mapped) Tables() []string {
	var names []string
	for _, t := range m.turned.Tables {
		names = append(names, t.Name)
	}
	return names
}

func (m *mapped) Read(_ context.Context, table, _ string) (*Sheet, error) {
	for i := range m.turned.Tables {
		t := &m.turned.Tables[i]
		if t.Name != table {
			continue
		}
		sum, err := fileSHA256(t.Path)
		if err != nil {
			return nil, err
		}
		return &Sheet{Table: table, File: m.filesOf(table), Path: t.Path, Header: t.Columns, Records: t.Rows, SHA256: sum, Turned: t}, nil
	}
	return nil, fmt.Errorf("the mapping has no table %s", table)
}

// filesOf names the files that a table's rows come from.
func (m *mapped) filesOf(table string) string {
	var files []string
	for _, b := range m.turned.Balance {
		for _, u := range b.Uses {
			if u.Table == table && !contains(files, b.String()) {
				files = append(files, b.String())
			}
		}
	}
	return strings.Join(files, ", ")
}

func fileSHA256(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	_, err = io.Copy(sum, f)
	return hex.EncodeToString(sum.Sum(nil)), errors.Join(err, f.Close())
}

// account gives the balance of the export's own rows and the words without a
// code, if a mapping turned it.
func account(src Source) ([]mapping.Balance, []mapping.UnknownCode) {
	if m, ok := src.(*mapped); ok {
		return m.turned.Balance, m.turned.Unknown
	}
	return nil, nil
}

// unknownWords lists the words without a code for a refusal.
func (l *loader) unknownWords() string {
	const most = 10
	var words []string
	for i, u := range l.res.Unknown {
		if i == most {
			words = append(words, fmt.Sprintf("and %d more", len(l.res.Unknown)-most))
			break
		}
		words = append(words, fmt.Sprintf("%s in %s (%s.%s)", shown(u.Word), bundle.Counted(u.Rows, "row", "rows"), u.Table, u.Column))
	}
	if len(words) == 0 {
		return ""
	}
	return "\n  words that the mapping has no code for: " + strings.Join(words, ", ")
}

// turnedTotals checks that the tables took in what the mapping made for them.
func (l *loader) turnedTotals() error {
	if l.res.Sources == nil {
		return nil
	}
	for _, t := range bundle.Tables {
		made, read := int64(0), int64(0)
		for _, b := range l.res.Sources {
			for _, u := range b.Uses {
				if u.Table == t.Name {
					made += u.Made
				}
			}
		}
		for _, b := range l.res.Balance {
			if b.Table == t.Name {
				read = b.Read
			}
		}
		if made != read {
			return fmt.Errorf("the balance of %s does not hold: the mapping made %d rows of the export, %d were read; nothing was stored", t.Name, made, read)
		}
	}
	return nil
}
