// Package sheets reads exports of any shape into plain grids of text: delimited
// text in several encodings, workbooks, Parquet and newline-delimited JSON, alone,
// gzipped, in a folder or in a zip. It knows nothing of the trade; what a cell means
// is for others to say. Nothing is guessed silently: what was sniffed stands in Info
// and can be forced, and what cannot be read without a doubt is a Fault.
package sheets

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// The forms that a sheet comes in.
const (
	CSV     = "csv" // delimited text, whatever the delimiter
	XLSX    = "xlsx"
	Parquet = "parquet"
	NDJSON  = "ndjson"
)

// Limits on what an export may make this program unpack or hold. They bound time
// and disk; real exports stay far below them.
const (
	maxRecord   = 1 << 20  // bytes in one record of text
	maxColumns  = 2000     // cells in one row
	maxUnpacked = 4 << 30  // bytes that one archive or workbook may unfold to
	maxGrid     = 16 << 30 // bytes of one grid on disk
	maxFiles    = 1000     // files in a folder or archive
	maxStrings  = 256 << 20
	headRows    = 50
)

// Info says what a sheet is. Sheet is "" for a plain file. Encoding and Delimiter
// are set for delimited text only; Delimiter 0 is a file of one column.
type Info struct {
	File      string // as the user knows it: relative to the folder or archive, "/" between parts
	Sheet     string // of a workbook, or the path of a list in nested JSON
	Format    string // CSV, XLSX, Parquet or NDJSON
	Encoding  string // UTF8, UTF16LE, UTF16BE, Latin1, Windows1252 or another name of Encodings
	Delimiter rune
	Hidden    bool // a sheet that the spreadsheet program does not show
}

// Override forces what would be sniffed. The zero value forces nothing.
type Override struct {
	Encoding  string
	Delimiter rune
}

// Grid is a sheet as text. Path is a UTF-8 CSV with commas and without a header
// line: the first column is the row's line in the user's file (its row number in a
// workbook), then Width cells, every record padded. Rows without any content are
// counted in Blank and left out. Parquet and JSON have no header of their own: their
// names come as the first row, with line 0.
type Grid struct {
	Info
	Path      string
	Width     int
	Rows      int64
	Blank     int64
	Head      [][]string // the first rows, padded, without the line
	HeadLines []int64    // their lines
}

// file is one file of the export, unpacked if it came in an archive.
type file struct {
	name     string // as the user knows it
	path     string // where it is now
	original original
}

// source is what the grids of a sheet come from.
type source struct {
	info Info
	from *file
	read func(ctx context.Context, as Override, w *gridWriter) error
}

// Book is an opened export. It is not safe for use by several goroutines.
type Book struct {
	sources []source
	skipped []string
	scratch string
	grids   int
	closers []func() error
}

// Open finds the sheets of the file, folder or zip at path. Scratch is a private
// folder for unpacked copies and grids; the caller removes it. The order of the
// sheets is that of the file names and, within a workbook, of its tabs.
func Open(ctx context.Context, path, scratch string) (*Book, error) {
	b := &Book{scratch: scratch}
	files, err := b.find(ctx, path)
	if err == nil {
		for _, f := range files {
			if err = b.add(ctx, f); err != nil {
				break
			}
		}
	}
	if err == nil && len(b.sources) == 0 {
		err = &Fault{File: filepath.Base(path), Found: "nothing that could be a table", Remedy: "name a CSV, XLSX, Parquet or NDJSON file, or a folder or zip of them"}
	}
	if err != nil {
		return nil, errors.Join(err, b.Close())
	}
	return b, nil
}

// Sheets lists what was found.
func (b *Book) Sheets() []Info {
	infos := make([]Info, len(b.sources))
	for i, s := range b.sources {
		infos[i] = s.info
	}
	return infos
}

// Skipped names the files beside the sheets that are no tables.
func (b *Book) Skipped() []string { return b.skipped }

// Grid writes sheet i as a grid. A file that changes meanwhile is a Fault.
func (b *Book) Grid(ctx context.Context, i int, as Override) (*Grid, error) {
	if i < 0 || i >= len(b.sources) {
		return nil, fmt.Errorf("there is no sheet %d among %d", i, len(b.sources))
	}
	s := b.sources[i]
	if err := s.from.original.unchanged(); err != nil {
		return nil, err
	}
	b.grids++
	w, err := newGridWriter(filepath.Join(b.scratch, fmt.Sprintf("grid-%d.csv", b.grids)), s.info)
	if err != nil {
		return nil, err
	}
	err = s.read(ctx, as, w)
	if changed := s.from.original.unchanged(); changed != nil {
		err = changed // whatever it could not be read for
	}
	g, closeErr := w.finish()
	if err = errors.Join(err, closeErr); err != nil {
		return nil, errors.Join(err, os.Remove(w.path))
	}
	return g, nil
}

// Unchanged reports a file that changed since Open, be it packed or not: sheets read
// before and after that would be of two exports, and one that is still being written
// is not whole. It may be asked after Close too.
func (b *Book) Unchanged() error {
	for _, s := range b.sources {
		if err := s.from.original.unchanged(); err != nil {
			return err
		}
	}
	return nil
}

// Close releases what Open holds. Grids already written stay.
func (b *Book) Close() error {
	var errs []error
	for _, c := range b.closers {
		errs = append(errs, c())
	}
	b.closers = nil
	return errors.Join(errs...)
}
