package intake

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"afterfit/internal/bundle"
	"afterfit/internal/mapping"
	"afterfit/internal/privacy"
	"afterfit/internal/sheets"
)

// Note is what an export says about itself in bundle.toml.
type Note struct {
	Name     string `toml:"name" json:"name"`
	Basis    string `toml:"basis" json:"basis"`         // privacy basis, "" = not stated
	Invented bool   `toml:"invented" json:"invented"`   // no real person stands behind a row
	Complete bool   `toml:"complete" json:"complete"`   // cases that are absent were withdrawn
	Adds     bool   `toml:"adds" json:"adds,omitempty"` // rows join cases that the store has, nothing is replaced

	Corrects string `toml:"corrects" json:"corrects,omitempty"` // content SHA-256 of the load whose rows set aside these are

	Cleared []privacy.Clearance `toml:"cleared" json:"cleared,omitempty"` // findings of the privacy checks that a person cleared
}

// Source is an export of any shape. The rest of the package sees only tables.
type Source interface {
	// Note is the export's word about itself.
	Note() Note
	// Tables names the tables that are there, in the order of the contract.
	Tables() []string
	// Read hands out one table as a CSV that DuckDB reads strictly. Scratch is a
	// private folder for a rewritten copy. What makes the table unreadable is a Fault.
	Read(ctx context.Context, table, scratch string) (*Sheet, error)
	// Unchanged reports a packed or turned file that is no longer the one that was
	// opened. The sheets tell of those that are read where they are.
	Unchanged() error
}

// Sheet is one table of a source, ready for DuckDB: UTF-8, comma, one header line,
// every record as wide as the header.
type Sheet struct {
	Table        string
	File         string // as the user knows it
	Path         string // what DuckDB reads
	Header       []string
	HeadLine     int64           // line of the header in File
	Records      int64           // in Path, without the header
	Shifts       []Shift         // from record number to line
	Rejected     []Fault         // records that Path leaves out
	RejectedText []string        // and what stood there, one for each
	Seen         os.FileInfo     // the file at SeenAt when it was looked through; nil where nothing but a copy is left
	SeenAt       string          // Path, or the file that Path is a rewritten copy of
	SHA256       string          // of the content
	Columns      *sheets.Columns // of a Parquet file, which DuckDB reads in place; nil for text
	Turned       *mapping.Table  // what a mapping adds to every record; nil for a plain bundle
	Sifted       *sifted         // what the look-through found; nil where every row is judged
}

// Shift says that from record Rec on (the first is 0) a record's line in the
// user's file is Rec + Offset.
type Shift struct{ Rec, Offset int64 }

// folder is a bundle of CSV files.
type folder struct {
	dir   string
	note  Note
	files map[string]string // table -> file name
}

const noteFile = "bundle.toml"

// Open finds out what path holds. Scratch is a private folder for unpacked copies
// that lives as long as the source.
func Open(ctx context.Context, path, scratch string) (Source, error) {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, Fault{File: path, Found: "nothing at this path", Remedy: "check the path of the export"}
	}
	if err != nil {
		return nil, Fault{File: path, Found: "a path that cannot be reached (" + err.Error() + ")", Remedy: "check its permissions"}
	}
	if !info.IsDir() || otherShape(path) {
		s, err := openShapes(ctx, path, scratch)
		if err != nil {
			return nil, err
		}
		return s, nil
	}
	f := &folder{dir: path, files: map[string]string{}}
	if err := f.list(); err != nil {
		return nil, err
	}
	return f, f.readNote()
}

// list finds the tables. A CSV file that is no table is refused, because a
// misspelt name of an optional table would otherwise be lost in silence.
func (f *folder) list() error {
	entries, err := os.ReadDir(f.dir)
	if err != nil {
		return Fault{File: f.dir, Found: "a folder that cannot be read (" + err.Error() + ")", Remedy: "check its permissions"}
	}
	var strange []string
	for _, e := range entries {
		ext := filepath.Ext(e.Name())
		if !strings.EqualFold(ext, ".csv") || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		name := strings.TrimSuffix(e.Name(), ext)
		if _, ok := bundle.Find(name); ok {
			f.files[name] = e.Name()
		} else {
			strange = append(strange, e.Name())
		}
	}
	if len(f.files) == 0 && len(strange) == 0 {
		return Fault{File: f.dir, Found: "a folder without a table", Remedy: "name the folder that holds cases.csv and the other tables"}
	}
	if len(strange) > 0 {
		name := strings.TrimSuffix(strange[0], filepath.Ext(strange[0]))
		return Fault{File: strange[0], Found: "a CSV file that is no table of the contract",
			Remedy: suggest(name, f.absent(), "rename it to %s.csv", "take it out of the folder")}
	}
	return nil
}

// absent lists the tables of the contract that are not there.
func (f *folder) absent() []string {
	var names []string
	for _, t := range bundle.Tables {
		if _, ok := f.files[t.Name]; !ok {
			names = append(names, t.Name)
		}
	}
	return names
}

// Unchanged leaves it to the sheets.
func (f *folder) Unchanged() error { return nil }

func (f *folder) readNote() error {
	path := filepath.Join(f.dir, noteFile)
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return Fault{File: noteFile, Found: "a file that cannot be read (" + err.Error() + ")", Remedy: "check its permissions"}
	}
	return parseNote(noteFile, text, &f.note)
}

// clearRemedy says how a column is cleared.
func clearRemedy() string {
	kinds := make([]string, len(privacy.Kinds()))
	for i, k := range privacy.Kinds() {
		kinds[i] = string(k)
	}
	return `write [[cleared]] with table, column, kind and a reason in words; the kinds are ` + strings.Join(kinds, ", ")
}

const noteRemedy = `keep to name = "...", basis = "safe_harbor", "limited_data_set" or "consented_local", invented = true or false, complete = true or false, adds = true or false`

func parseNote(path string, text []byte, note *Note) error {
	err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(note)
	fault := Fault{File: path, Remedy: noteRemedy}
	var unknown *toml.StrictMissingError
	var broken *toml.DecodeError
	switch {
	case errors.As(err, &unknown):
		row, _ := unknown.Errors[0].Position()
		fault.Line, fault.Found = int64(row), "the unknown key "+shown(strings.Join(unknown.Errors[0].Key(), "."))
	case errors.As(err, &broken):
		row, _ := broken.Position()
		fault.Line, fault.Found = int64(row), "what is no such setting ("+broken.Error()+")"
	case err != nil:
		fault.Found = "what is no such setting (" + err.Error() + ")"
	default:
		if basis := privacy.Basis(note.Basis); basis != privacy.Unstated && !basis.Known() {
			fault.Found = "the basis " + shown(note.Basis)
			return fault
		}
		for _, c := range note.Cleared {
			if err := c.Validate(); err != nil {
				fault.Found, fault.Remedy = err.Error(), clearRemedy()
				return fault
			}
		}
		return nil
	}
	return fault
}

func (f *folder) Note() Note { return f.note }

func (f *folder) Tables() []string {
	var names []string
	for _, t := range bundle.Tables {
		if _, ok := f.files[t.Name]; ok {
			names = append(names, t.Name)
		}
	}
	return names
}

func (f *folder) Read(ctx context.Context, table, scratch string) (*Sheet, error) {
	return readCSV(ctx, table, f.files[table], filepath.Join(f.dir, f.files[table]), scratch)
}

// readCSV looks a CSV file through that is called name and stands at path.
func readCSV(ctx context.Context, table, name, path, scratch string) (*Sheet, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	unreadable := func(err error) error {
		return Fault{Table: table, File: name, Found: "a file that cannot be read (" + err.Error() + ")", Remedy: "check that it is a file and its permissions"}
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, unreadable(err)
	}
	in, err := os.Open(path)
	if err != nil {
		return nil, unreadable(err)
	}
	defer func() { _ = in.Close() }() // only read from
	s := &scanner{file: name, path: path, table: table, seen: info, piece: int(min(pieceSize, info.Size()+1))}
	var fault Fault
	switch err := s.scan(ctx, in); {
	case err == nil:
	case errors.As(err, &fault), ctx.Err() != nil:
		return nil, err
	default:
		return nil, unreadable(err)
	}
	if s.records > maxRecords {
		return nil, s.fault(0, "", fmt.Sprintf("more than %d rows", maxRecords), "export fewer years at a time")
	}
	return s.sheet(scratch)
}

// maxRecords is how many rows of a table a load can tell apart.
const maxRecords = 1 << 31
