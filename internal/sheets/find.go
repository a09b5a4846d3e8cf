package sheets

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// original is a file that the user sees, as it was when it was opened.
type original struct {
	name, path string
	size       int64
	mod        time.Time
}

func originalAt(name, path string) (original, error) {
	info, err := os.Stat(path)
	if err != nil {
		return original{}, err
	}
	return original{name, path, info.Size(), info.ModTime()}, nil
}

// unchanged reports a file that was changed since it was opened.
func (o original) unchanged() error {
	now, err := originalAt(o.name, o.path)
	if err != nil || now != o {
		return &Fault{File: o.name, Found: "a file that changed while it was read", Remedy: "wait until the export is written, then load it again"}
	}
	return nil
}

// tabular are the endings of files that are looked at in a folder or archive; what
// they hold is told from their content.
var tabular = []string{".csv", ".tsv", ".tab", ".txt", ".psv", ".ndjson", ".jsonl", ".parquet", ".xlsx", ".xlsm", ".gz", ".zip", ".xls", ".xlsb", ".ods"}

func looksTabular(name string) bool { return slices.Contains(tabular, strings.ToLower(path.Ext(name))) }

// find lists the files of the export at path, unpacked where they were packed.
func (b *Book) find(ctx context.Context, path string) ([]*file, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, &Fault{File: path, Found: "nothing at this path", Remedy: "check the path of the export"}
	case err != nil:
		return nil, &Fault{File: path, Found: "a path that cannot be reached (" + err.Error() + ")", Remedy: "check its permissions"}
	case info.IsDir():
		return b.folder(ctx, path)
	case !info.Mode().IsRegular():
		return nil, &Fault{File: path, Found: "neither a file nor a folder", Remedy: "name a file, a folder or a zip"}
	}
	f := &file{name: filepath.Base(path), path: path}
	if f.original, err = originalAt(f.name, path); err != nil {
		return nil, err
	}
	archive, err := isArchive(path)
	if err != nil || !archive {
		return []*file{f}, err
	}
	return b.unzip(ctx, f)
}

// folder lists a folder and those below it, in the order of the names.
func (b *Book) folder(ctx context.Context, dir string) ([]*file, error) {
	var files []*file
	err := filepath.WalkDir(dir, func(at string, d fs.DirEntry, err error) error {
		if err != nil {
			return &Fault{File: at, Found: "a folder that cannot be read (" + err.Error() + ")", Remedy: "check its permissions"}
		}
		rel, relErr := filepath.Rel(dir, at)
		hidden := strings.HasPrefix(d.Name(), ".") && at != dir
		switch {
		case relErr != nil || ctx.Err() != nil:
			return errors.Join(relErr, ctx.Err())
		case d.IsDir() && hidden:
			return fs.SkipDir
		case d.IsDir():
			return nil
		case hidden || strings.HasPrefix(d.Name(), "~$") || !looksTabular(d.Name()):
			b.skipped = append(b.skipped, filepath.ToSlash(rel))
			return nil
		case len(files) == maxFiles:
			return &Fault{File: dir, Found: fmt.Sprintf("more than %d files", maxFiles), Remedy: "name the folder of one export"}
		}
		f := &file{name: filepath.ToSlash(rel), path: at}
		f.original, err = originalAt(f.name, at)
		files = append(files, f)
		return err
	})
	return files, err
}

const (
	zipStart   = "PK\x03\x04"
	gzipStart  = "\x1f\x8b"
	parquetEnd = "PAR1"
)

// start reads the first bytes of a file.
func start(path string, n int) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, &Fault{File: filepath.Base(path), Found: "a file that cannot be read (" + err.Error() + ")", Remedy: "check its permissions"}
	}
	defer func() { _ = f.Close() }() // only read from
	buf := make([]byte, n)
	n, err = io.ReadFull(f, buf)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil
	}
	return buf[:n], err
}

// isArchive reports a zip that is no workbook.
func isArchive(path string) (bool, error) {
	head, err := start(path, 4)
	if err != nil || string(head) != zipStart {
		return false, err
	}
	z, err := zip.OpenReader(path)
	if err != nil {
		return false, &Fault{File: filepath.Base(path), Found: "a damaged zip or workbook (" + err.Error() + ")", Remedy: "copy or export it again"}
	}
	defer func() { _ = z.Close() }() // only read from
	return !slices.ContainsFunc(z.File, func(f *zip.File) bool { return f.Name == contentTypes }), nil
}

// unzip unpacks the tables of an archive into scratch, under names of our own: a
// name in an archive never becomes a path on this machine.
func (b *Book) unzip(ctx context.Context, archive *file) ([]*file, error) {
	z, err := zip.OpenReader(archive.path)
	if err != nil {
		return nil, err
	}
	defer func() { _ = z.Close() }() // only read from
	members := slices.Clone(z.File)
	slices.SortStableFunc(members, func(x, y *zip.File) int { return strings.Compare(x.Name, y.Name) })
	var files []*file
	left := int64(maxUnpacked)
	for _, m := range members {
		if m.FileInfo().IsDir() || strings.HasPrefix(m.Name, "__MACOSX/") {
			continue
		}
		fault := func(found, remedy string) error {
			return &Fault{File: archive.name + "/" + m.Name, Found: found, Remedy: remedy}
		}
		switch {
		case strings.HasPrefix(m.Name, "/") || strings.Contains(m.Name, `\`) || slices.Contains(strings.Split(m.Name, "/"), ".."):
			return nil, fault("a name that points out of the archive", "pack the files again, without folders above them")
		case strings.HasPrefix(path.Base(m.Name), ".") || !looksTabular(m.Name):
			b.skipped = append(b.skipped, m.Name)
			continue
		case m.Flags&1 != 0:
			return nil, fault("a file with a password", "unpack the archive first, or pack it without a password")
		case len(files) == maxFiles:
			return nil, fault(fmt.Sprintf("more than %d files", maxFiles), "pack the files of one export")
		}
		f := &file{name: m.Name, path: filepath.Join(b.scratch, fmt.Sprintf("zip-%d", len(files))), original: archive.original}
		n, err := unpack(ctx, f.path, left, m.Open)
		if err != nil {
			return nil, named(err, archive.name+"/"+m.Name)
		}
		left -= n
		if nested, err := isArchive(f.path); err != nil || nested {
			return nil, errors.Join(err, fault("a zip inside the zip", "pack the tables themselves"))
		}
		files = append(files, f)
	}
	return files, archive.original.unchanged()
}

// errTooBig marks what unfolds to more than it may.
var errTooBig = errors.New("too big")

// named turns an error of unpacking into a Fault of the file.
func named(err error, name string) error {
	if errors.Is(err, errTooBig) {
		return &Fault{File: name, Found: "more than 4 GiB when unpacked", Remedy: "export fewer years at a time"}
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	var fault *Fault
	if errors.As(err, &fault) {
		return err
	}
	return &Fault{File: name, Found: "a file that cannot be unpacked (" + err.Error() + ")", Remedy: "pack or export it again"}
}

// unpack copies what open gives to path, at most limit bytes of it.
func unpack(ctx context.Context, path string, limit int64, open func() (io.ReadCloser, error)) (n int64, err error) {
	in, err := open()
	if err != nil {
		return 0, err
	}
	defer func() { _ = in.Close() }() // only read from
	out, err := os.OpenFile(path, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return 0, err
	}
	n, err = io.Copy(out, &bounded{ctx: ctx, r: in, left: limit})
	return n, errors.Join(err, out.Close())
}

// bounded reads at most left bytes and stops when the context ends.
type bounded struct {
	ctx  context.Context
	r    io.Reader
	left int64
}

func (b *bounded) Read(p []byte) (int, error) {
	if err := b.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := b.r.Read(p)
	if b.left -= int64(n); b.left < 0 {
		return 0, errTooBig
	}
	return n, err
}

const blanks = " \t\r\n"

// signatures of files that people take for a table by mistake.
var signatures = []struct{ start, is, remedy string }{
	{"\xd0\xcf\x11\xe0", "an old workbook or one with a password", "save it as XLSX without a password"},
	{"%PDF", "a PDF", "export the table as CSV or XLSX"},
	{"\x00\x00\xfe\xff", "UTF-32 text", "save the table as UTF-8"},
	{"\xff\xfe\x00\x00", "UTF-32 text", "save the table as UTF-8"},
}

// add finds the sheets of one file.
func (b *Book) add(ctx context.Context, f *file) error {
	head, err := start(f.path, 512)
	if err != nil {
		return err
	}
	if bytes.HasPrefix(head, []byte(gzipStart)) {
		if f, head, err = b.gunzip(ctx, f); err != nil {
			return err
		}
	}
	mark := bytes.TrimLeft(bytes.TrimPrefix(head, []byte(bomUTF8)), blanks)
	if list, ok := bytes.CutPrefix(mark, []byte("[")); ok && bytes.HasPrefix(bytes.TrimLeft(list, blanks), []byte("{")) {
		return &Fault{File: f.name, Found: "a list in JSON", Remedy: "write one object a line (NDJSON)"}
	}
	if bytes.HasPrefix(mark, []byte("{")) {
		return b.addJSON(ctx, f)
	}
	for _, s := range signatures {
		if bytes.HasPrefix(head, []byte(s.start)) {
			return &Fault{File: f.name, Found: s.is, Remedy: s.remedy}
		}
	}
	switch {
	case bytes.HasPrefix(head, []byte(zipStart)) && strings.EqualFold(path.Ext(f.name), ".ods"):
		return &Fault{File: f.name, Found: "a workbook of another kind", Remedy: "save it as XLSX"}
	case bytes.HasPrefix(head, []byte(zipStart)):
		return b.addWorkbook(ctx, f)
	case bytes.HasPrefix(head, []byte(parquetEnd)):
		b.addParquet(f)
		return nil
	}
	return b.addText(ctx, f)
}

// gunzip unpacks a gzipped text and returns it with its first bytes.
func (b *Book) gunzip(ctx context.Context, f *file) (*file, []byte, error) {
	inner := *f
	inner.path = filepath.Join(b.scratch, fmt.Sprintf("gz-%d", len(b.sources)))
	_, err := unpack(ctx, inner.path, maxUnpacked, func() (io.ReadCloser, error) {
		in, err := os.Open(f.path)
		if err != nil {
			return nil, err
		}
		z, err := gzip.NewReader(in)
		if err != nil {
			return nil, errors.Join(err, in.Close())
		}
		return both{z, in}, nil
	})
	if err != nil {
		return nil, nil, named(err, f.name)
	}
	head, err := start(inner.path, 512)
	if err != nil {
		return nil, nil, err
	}
	for _, packed := range []string{gzipStart, zipStart, parquetEnd} {
		if bytes.HasPrefix(head, []byte(packed)) {
			return nil, nil, &Fault{File: f.name, Found: "a gzip of something that is no text", Remedy: "unpack it first"}
		}
	}
	return &inner, head, f.original.unchanged()
}

// both closes the file below a reader too.
type both struct {
	io.Reader
	below io.Closer
}

func (b both) Close() error { return b.below.Close() }
