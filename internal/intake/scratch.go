package intake

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"afterfit/internal/store"
)

// A load, and a look at an export, keep unpacked and rewritten copies of the export in
// a private folder, which goes when they end. A process that is killed cannot take its
// folder away. So each folder holds a file that is locked as long as its process lives,
// and whoever comes next takes away the folders whose lock nobody holds.

const (
	scratchName = "afterfit-load-"
	scratchNew  = "afterfit-new-" // until the lock is held
	scratchLock = ".lock"
)

// makeScratch makes a private folder in dir ("" = the system's for temporary files),
// and takes away those of processes that were killed. Done takes the new one away.
func makeScratch(dir string) (path string, done func(), err error) {
	if dir == "" {
		dir = os.TempDir()
	}
	clearAbandoned(dir)
	fail := func(err error) (string, func(), error) {
		return "", nil, fmt.Errorf("%w: no folder for temporary files: %w", store.ErrUse, err)
	}
	made, err := os.MkdirTemp(dir, scratchNew+"*")
	if err != nil {
		return fail(err)
	}
	lock, err := os.OpenFile(filepath.Join(made, scratchLock), os.O_CREATE|os.O_RDWR, 0o600)
	if err == nil {
		_ = tryLock(lock) // without it the folder is cleared by its own process alone
		path = filepath.Join(dir, scratchName+strings.TrimPrefix(filepath.Base(made), scratchNew))
		if err = os.Rename(made, path); err == nil {
			return path, func() { _ = errors.Join(takeAway(path, os.RemoveAll), lock.Close()) }, nil
		}
		err = errors.Join(err, lock.Close())
	}
	return fail(errors.Join(err, os.RemoveAll(made)))
}

// clearAbandoned takes away folders whose process is gone. What it may not touch,
// another user's, stays.
func clearAbandoned(dir string) {
	folders, err := filepath.Glob(filepath.Join(globbable(dir), scratchName+"*"))
	if err != nil {
		return
	}
	for _, folder := range folders {
		if info, err := os.Lstat(folder); err != nil || !info.IsDir() {
			continue
		}
		lock, err := os.OpenFile(filepath.Join(folder, scratchLock), os.O_RDWR, 0)
		if err != nil {
			continue
		}
		if tryLock(lock) {
			_ = takeAway(folder, os.RemoveAll)
		}
		_ = lock.Close() // only locked
	}
}

// takeAway removes a folder, its lock last: whoever is killed in between leaves a folder
// that the next one knows.
func takeAway(folder string, remove func(path string) error) error {
	held, err := os.ReadDir(folder)
	if err != nil {
		return err
	}
	for _, e := range held {
		if e.Name() == scratchLock {
			continue
		}
		if err := remove(filepath.Join(folder, e.Name())); err != nil {
			return err
		}
	}
	return remove(folder)
}

// partName begins the names of rows set aside that are being written beside their
// place. A part is held as a private folder is, by a lock on itself.
const partName = ".afterfit-aside-"

// holdPart locks a file or folder until what it returns is called.
func holdPart(path string) (letGo func()) {
	f, err := os.Open(path)
	if err != nil {
		return func() {}
	}
	_ = tryLock(f)
	return func() { _ = f.Close() } // only locked
}

// clearParts takes away the parts beside a place whose process is gone.
func clearParts(dir string) {
	parts, err := filepath.Glob(filepath.Join(globbable(dir), partName+"*"))
	if err != nil {
		return
	}
	for _, part := range parts {
		f, err := os.Open(part)
		if err != nil {
			continue
		}
		if tryLock(f) {
			_ = os.RemoveAll(part)
		}
		_ = f.Close() // only locked
	}
}

// globbable keeps the signs of a pattern in a folder's name from being one.
func globbable(dir string) string {
	return strings.NewReplacer(`\`, `\\`, "*", `\*`, "?", `\?`, "[", `\[`).Replace(dir)
}

// noRoom turns a full folder for temporary files into a sentence; other errors pass as
// they are. The store's own disk has a sentence of its own.
func noRoom(err error, scratch string) error {
	if err == nil || errors.Is(err, store.ErrUse) || !errors.Is(err, syscall.ENOSPC) && !strings.Contains(strings.ToLower(err.Error()), "no space left on device") {
		return err
	}
	return fmt.Errorf("%w: %s, the folder for temporary files, is on a full disk: make room there, or name another folder in TMPDIR; nothing was stored", store.ErrUse, filepath.Dir(scratch))
}
