package store

import (
	"errors"
	"strings"
)

// damageWords are how DuckDB says that what it read from its file is not what was
// written to it, or is not there.
var damageWords = []string{"Corrupt database file", "does not match stored checksum", "Corrupt WAL", "Serialization Error", "Catalog Error: Table with name"}

// explained is what DuckDB says, behind a sentence for people. It is an ErrUse.
type explained struct {
	error
	sentence string
}

func (e *explained) Error() string { return e.sentence + " (" + firstLine(e.error.Error()) + ")" }

func (e *explained) Unwrap() error { return e.error }

func (e *explained) Is(target error) bool { return target == ErrUse }

// Explain turns what DuckDB says of a damaged file, found while it is read, and of memory
// that does not suffice though it spills into a sentence that is an ErrUse; other errors pass as they are.
func Explain(err error) error {
	if err == nil || errors.Is(err, ErrUse) {
		return err
	}
	if strings.Contains(err.Error(), "Out of Memory Error") {
		return &explained{err, "the database has too little memory: give it more with --memory, or with memory in the settings"}
	}
	for _, word := range damageWords {
		if strings.Contains(err.Error(), word) {
			return &explained{err, "the store's file is damaged: restore it from a copy, or load the exports again into a new store"}
		}
	}
	return err
}
