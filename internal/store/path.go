package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
)

// ErrUse is wrapped by every error that the user mends by calling the program
// differently: another path, another permission, another moment.
var ErrUse = errors.New("store cannot be used")

// pathError is a sentence about a store's path that is also an ErrUse.
type pathError struct{ path, found, remedy string }

func (e *pathError) Error() string {
	return fmt.Sprintf("store %s: %s: %s", e.path, e.found, e.remedy)
}

func (e *pathError) Is(target error) bool { return target == ErrUse }

// magic stands at byte 8 of every DuckDB file.
var magic = []byte("DUCK")

// checkPath looks at the path before DuckDB does, because DuckDB opens a CSV file
// as a view of itself and speaks in terms of its own. It returns the source name
// for the driver.
func checkPath(path string, readOnly bool) (string, error) {
	if path == "" {
		return "", nil
	}
	if i := strings.IndexFunc(path, func(r rune) bool { return strings.ContainsRune("#%?", r) || r < ' ' || r == 0x7f }); i >= 0 {
		return "", &pathError{fmt.Sprintf("%q", path), fmt.Sprintf("the path holds the character %q", path[i]), "choose a path without #, %, ? and control characters"}
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		err = checkNew(path, filepath.Dir(abs), readOnly)
	case err != nil:
		err = &pathError{path, "cannot be reached (" + err.Error() + ")", "check the path and its permissions"}
	case info.IsDir():
		err = &pathError{path, "is a folder", "name a file in it, for example " + filepath.Join(path, "afterfit.duckdb")}
	case !info.Mode().IsRegular():
		err = &pathError{path, "is no ordinary file", "name another file"}
	default:
		err = checkExisting(path, info, readOnly)
	}
	if err != nil {
		return "", err
	}
	if readOnly {
		return abs + "?access_mode=READ_ONLY", nil
	}
	return abs, nil
}

// checkNew judges a path that does not exist yet.
func checkNew(path, dir string, readOnly bool) error {
	if readOnly {
		return &pathError{path, "does not exist", "load an export first (afterfit load EXPORT) or name an existing store"}
	}
	info, err := os.Stat(dir)
	if err != nil || !info.IsDir() {
		return &pathError{path, "its folder " + dir + " does not exist", "create the folder or choose another path"}
	}
	probe, err := os.CreateTemp(dir, ".afterfit-*")
	if err != nil || info.Mode().Perm()&0o222 == 0 {
		if err == nil {
			_ = probe.Close()
			_ = os.Remove(probe.Name())
		}
		return &pathError{path, "its folder " + dir + " is read-only", "make it writable or choose another path"}
	}
	return errors.Join(probe.Close(), os.Remove(probe.Name()))
}

// checkExisting judges a file that is there: DuckDB's own, and writable where it
// will be written. The permission bits count even for an administrator, who would
// get past them: a file that was write-protected was so on purpose.
func checkExisting(path string, info fs.FileInfo, readOnly bool) error {
	f, err := os.Open(path)
	if err != nil {
		return &pathError{path, "cannot be read (" + err.Error() + ")", "check its permissions"}
	}
	defer func() { _ = f.Close() }() // only read from
	head := make([]byte, 12)
	if _, err := io.ReadFull(f, head); err != nil || !bytes.Equal(head[8:], magic) {
		return &pathError{path, "is not a DuckDB file", "name another file; this one was left as it is"}
	}
	if readOnly {
		return nil
	}
	w, err := os.OpenFile(path, os.O_RDWR, 0)
	if err == nil {
		err = w.Close()
	}
	if err != nil || info.Mode().Perm()&0o222 == 0 {
		return &pathError{path, "is read-only", "make it writable or name another file"}
	}
	dir := filepath.Dir(path)
	probe, err := os.CreateTemp(dir, ".afterfit-*") // DuckDB writes its log beside the file
	if errors.Is(err, syscall.ENOSPC) {
		return diskFull(path)
	}
	if err != nil {
		return &pathError{path, "its folder " + dir + " is read-only", "make it writable or choose another path"}
	}
	return errors.Join(probe.Close(), os.Remove(probe.Name()))
}

var (
	lockHeld = regexp.MustCompile(`Could not set lock on file`)
	lockPID  = regexp.MustCompile(`\(PID (\d+)\)`)
)

// explainConnect turns what DuckDB says on opening into a sentence.
func explainConnect(path string, err error) error {
	msg := err.Error()
	if lockHeld.MatchString(msg) {
		who := "another process"
		if m := lockPID.FindStringSubmatch(msg); m != nil {
			who = "process " + m[1]
		}
		return &pathError{path, "is in use by " + who, "close that program and try again; one process at a time can open a store"}
	}
	return &pathError{path, "DuckDB cannot open it (" + firstLine(msg) + ")", "restore it from a copy or name another file"}
}

// explainDisk turns a failed write on a full disk into a sentence; other errors
// pass as they are.
func explainDisk(path string, err error) error {
	if err == nil || !strings.Contains(err.Error(), "No space left on device") {
		return err
	}
	return diskFull(path)
}

func diskFull(path string) error {
	return &pathError{path, "the disk is full", "make room and try again; nothing was stored"}
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}
