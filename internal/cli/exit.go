package cli

import (
	"context"
	"errors"

	"afterfit/internal/intake"
	"afterfit/internal/store"
)

// Exit codes. They are part of the command line's contract and stand in the help.
const (
	ExitOK          = 0
	ExitInternal    = 1   // a fault of afterfit or of the machine
	ExitUsage       = 2   // wrong command, flag, argument or settings file
	ExitBadData     = 3   // the export cannot be loaded as it is; nothing was changed
	ExitNothing     = 4   // there is nothing to report on
	ExitStore       = 5   // the store cannot be used: in use elsewhere, read-only, damaged, newer
	ExitInterrupted = 130 // stopped by the user; nothing was changed
)

// usageError marks an error as the caller's own.
type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

// errNothing means that the question has no answer in this store.
var errNothing = errors.New("nothing to report")

// exitCode maps an error to its exit code, in one place for every command.
func exitCode(err error) int {
	var usage usageError
	switch {
	case err == nil:
		return ExitOK
	case errors.Is(err, context.Canceled):
		return ExitInterrupted
	case errors.As(err, &usage):
		return ExitUsage
	case errors.Is(err, intake.ErrBadData):
		return ExitBadData
	case errors.Is(err, errNothing):
		return ExitNothing
	case errors.Is(err, store.ErrUse):
		return ExitStore
	}
	return ExitInternal
}
