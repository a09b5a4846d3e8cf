package sheets

import "fmt"

// Fault is one thing that makes an export unreadable: where it is, what was found
// and what to do about it.
type Fault struct {
	File   string
	Sheet  string // "" for a plain file
	Line   int64  // in the file, or the row of a sheet; 0 where none is to blame
	Found  string
	Remedy string
}

// Error writes FILE[SHEET]:LINE: found X: do Y.
func (f *Fault) Error() string {
	at := f.File
	if f.Sheet != "" {
		at += "[" + f.Sheet + "]"
	}
	if f.Line > 0 {
		at += fmt.Sprintf(":%d", f.Line)
	}
	return fmt.Sprintf("%s: found %s: %s", at, f.Found, f.Remedy)
}

// fault blames a line of a sheet.
func (i Info) fault(line int64, found, remedy string) *Fault {
	return &Fault{File: i.File, Sheet: i.Sheet, Line: line, Found: found, Remedy: remedy}
}
