package store

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// CopyOf names the copy that is kept of a store before it is brought from an older
// schema version to this program's.
func CopyOf(path string, version int) string { return fmt.Sprintf("%s.version-%d", path, version) }

// keepCopy copies a closed store beside itself, written under another name and
// renamed, so that no half copy is ever taken for a whole one.
func keepCopy(path string, version int) error {
	place := CopyOf(path, version)
	fail := func(err error) error {
		return &pathError{path, fmt.Sprintf("has schema version %d and cannot be copied to %s before it is brought to %d (%v)", version, place, Version(), err), "make room and check the folder's permissions; nothing was changed"}
	}
	in, err := os.Open(path)
	if err != nil {
		return fail(err)
	}
	defer func() { _ = in.Close() }() // only read from
	out, err := os.CreateTemp(filepath.Dir(path), ".afterfit-*")
	if err != nil {
		return fail(err)
	}
	_, err = io.Copy(out, in)
	if err = errors.Join(err, out.Sync(), out.Close()); err == nil {
		err = os.Rename(out.Name(), place)
	}
	if err != nil {
		_ = os.Remove(out.Name()) // the copy's own error matters more
		return fail(err)
	}
	return nil
}
