// Package intake brings an export into the store: it finds the tables, refuses
// what cannot be read as the contract says, sets single rows aside with a reason,
// and stores the rest in one transaction whose balance must add up.
package intake

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"
)

// ErrBadData is wrapped by every error about the export itself.
var ErrBadData = errors.New("bad data")

// Fault is one thing wrong with an export: where, what was found, what to do.
type Fault struct {
	Table  string `json:"table"`
	File   string `json:"file"`
	Line   int64  `json:"line"` // in the file, the first is 1; 0 where no line is to blame
	Column string `json:"column"`
	Found  string `json:"found"`
	Remedy string `json:"remedy"`
}

// String writes FILE:LINE: column X: found Y: do Z; parts that do not apply are left out.
func (f Fault) String() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Line > 0 {
		fmt.Fprintf(&b, ":%d", f.Line)
	}
	if f.Column != "" {
		fmt.Fprintf(&b, ": column %s", f.Column)
	}
	fmt.Fprintf(&b, ": found %s: %s", f.Found, f.Remedy)
	return b.String()
}

// Error makes a fault that refuses the whole export an error.
func (f Fault) Error() string { return f.String() }

// Is reports that a fault is bad data.
func (f Fault) Is(target error) bool { return target == ErrBadData }

// Refusal is an export with too many rows to set aside. Nothing was stored.
type Refusal struct {
	Reason string
	Faults []Fault // the first of them, in file order
	More   int64   // how many faults there are beyond Faults

	SetAsideIn string // where the rows that would be set aside were written, "" if nowhere
}

// Error writes the reason and the faults, one a line.
func (r *Refusal) Error() string {
	var b strings.Builder
	b.WriteString(r.Reason)
	for _, f := range r.Faults {
		b.WriteString("\n  " + f.String())
	}
	if r.More > 0 {
		fmt.Fprintf(&b, "\n  and %d more", r.More)
	}
	if r.SetAsideIn != "" {
		fmt.Fprintf(&b, "\n  All of them are in %s, with their reasons: correct them in the export and load it again. If that cannot be, load the export with a larger --set-aside-limit and then what you corrected in %[1]s.", r.SetAsideIn)
	}
	return b.String()
}

// Is reports that a refusal is bad data.
func (r *Refusal) Is(target error) bool { return target == ErrBadData }

// shownRunes is how much of a cell a message repeats.
const shownRunes = 60

// shown writes a value for a message: quoted, without control characters, short.
func shown(s string) string {
	if utf8.RuneCountInString(s) > shownRunes {
		s = string([]rune(s)[:shownRunes]) + "..."
	}
	return fmt.Sprintf("%q", s)
}
