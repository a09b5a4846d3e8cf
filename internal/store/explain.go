package store

import (
	"errors"
	"strings"
)

// damageWords are how DuckDB says that what it read from its file is not what was
// written to it, or is not there.
var damageWords = []string{"Corrupt database file", "does not match stored checksum", "Corrupt WAL", "Serialization Error", "Catalog Error: Table with name"}

// damageError is what DuckDB says of a damaged file, as a sentence. It is an ErrUse.
type damageError struct{ error }

func (e *damageError) Error() string {
	return "the store's file is damaged: restore it from a copy, or load the exports again into a new store (" + firstLine(e.error.Error()) + ")"
}

func (e *damageError) Unwrap() error { return e.error }

func (e *damageError) Is(target error) bool { return target == ErrUse }

// memoryError is what DuckDB says where its memory does not suffice and spilling does not
// help, as a sentence. It is an ErrUse.
type memoryError struct{ error }

func (e *memoryError) Error() string {
	return "the database has too little memory: give it more with --memory, or with memory in the settings (" + firstLine(e.error.Error()) + ")"
}

func (e *memoryError) Unwrap() error { return e.error }

func (e *memoryError) Is(target error) bool { return target == ErrUse }

// Explain turns what DuckDB says of a damaged file, found while it is read, and of too
// little memory into a sentence that is an ErrUse; other errors pass as they are.
func Explain(err error) error {
	if err == nil || errors.Is(err, ErrUse) {
		return err
	}
	if strings.Contains(err.Error(), "Out of Memory Error") {
		return &memoryError{err}
	}
	for _, word := range damageWords {
		if strings.Contains(err.Error(), word) {
			return &damageError{err}
		}
	}
	return err
}
