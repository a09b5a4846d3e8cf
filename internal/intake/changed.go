package intake

import (
	"os"
	"path/filepath"
)

// unchanged reports a file of the user's that is no longer the one that was looked
// through, even where a private copy is read in its place: an export that is still
// being written is not whole.
func (sh *Sheet) unchanged() error {
	if sh == nil || sh.Seen == nil {
		return nil
	}
	if same(sh.SeenAt, sh.Seen) {
		return nil
	}
	return Fault{Table: sh.Table, File: sh.File, Found: "a file that changed while it was read", Remedy: "wait until the export is written, then load it again"}
}

func same(path string, seen os.FileInfo) bool {
	now, err := os.Stat(path)
	return err == nil && now.Size() == seen.Size() && now.ModTime().Equal(seen.ModTime())
}

// seenFile is a file beside the tables as it was before it was read: its state is nil
// where there was none.
type seenFile struct {
	path string
	was  os.FileInfo
}

// seenWords notes the note in the folder of an export and the mapping, before either is
// read. A path that cannot be reached is reported by who reads it.
func seenWords(export, mapping string) []seenFile {
	var list []seenFile
	if info, err := os.Stat(export); err == nil && info.IsDir() {
		list = append(list, seenFile{path: filepath.Join(export, noteFile)})
	}
	if mapping != "" {
		list = append(list, seenFile{path: mapping})
	}
	for i := range list {
		if info, err := os.Stat(list[i].path); err == nil {
			list[i].was = info
		}
	}
	return list
}

// unchanged reports a file that is no longer the one that was read.
func (f seenFile) unchanged() error {
	_, err := os.Stat(f.path)
	if f.was == nil && err != nil || f.was != nil && same(f.path, f.was) {
		return nil
	}
	return Fault{File: filepath.Base(f.path), Found: "a file that changed while it was read", Remedy: "wait until it is written, then load the export again"}
}
