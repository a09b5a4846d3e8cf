package intake

import "os"

// unchanged reports a file of the user's that is no longer the one that was looked
// through, even where a private copy is read in its place: an export that is still
// being written is not whole.
func (sh *Sheet) unchanged() error {
	if sh == nil || sh.Seen == nil {
		return nil
	}
	if now, err := os.Stat(sh.SeenAt); err == nil && now.Size() == sh.Seen.Size() && now.ModTime().Equal(sh.Seen.ModTime()) {
		return nil
	}
	return Fault{Table: sh.Table, File: sh.File, Found: "a file that changed while it was read", Remedy: "wait until the export is written, then load it again"}
}
