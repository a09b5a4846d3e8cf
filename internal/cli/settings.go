package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"

	"github.com/pelletier/go-toml/v2"

	"afterfit/internal/review"
	"afterfit/internal/store"
	"afterfit/internal/wording"
)

const (
	defaultStore    = "afterfit.duckdb"
	defaultSettings = "afterfit.toml"
)

// settings is the whole settings file. Flags win over it.
type settings struct {
	Store   string          `toml:"store"`
	Memory  string          `toml:"memory"`
	Threads int             `toml:"threads"`
	Temp    string          `toml:"temp"` // folder for temporary files; "" = beside the store
	Review  review.Settings `toml:"review"`
	// Standard is a file of saved case-mix models to judge by; Change is what was
	// changed on purpose.
	Standard string          `toml:"standard"`
	Change   []review.Change `toml:"change"`
	Language string          `toml:"language"` // of the pages; "" = English
	words    *wording.Catalogue
}

// settings reads the settings file strictly, then lays the flags over it.
func (a *app) settings() (settings, error) {
	s := settings{Store: defaultStore, Review: review.DefaultSettings()}
	path := a.settingsPath
	if path == "" {
		path = defaultSettings
	}
	raw, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && a.settingsPath == "":
	case err != nil:
		return s, usageError{fmt.Errorf("settings %s: %w", path, err)}
	default:
		if err := decodeSettings(raw, &s); err != nil {
			return s, usageError{fmt.Errorf("settings %s: %w", path, err)}
		}
	}
	if a.storePath != "" {
		s.Store = a.storePath
	}
	if a.memory != "" {
		s.Memory = a.memory
	}
	if a.threads != 0 {
		s.Threads = a.threads
	}
	if a.temp != "" {
		s.Temp = a.temp
	}
	if info, err := os.Stat(s.Temp); s.Temp != "" && (err != nil || !info.IsDir()) {
		return s, usageError{fmt.Errorf("temp is %s: name a folder that exists, for temporary files", s.Temp)}
	}
	if s.Threads < 0 {
		return s, usageError{fmt.Errorf("threads is %d: give 0 for all or a number above it", s.Threads)}
	}
	words, err := wording.In(s.Language)
	if err != nil {
		return s, usageError{fmt.Errorf("settings %s: language: %w", path, err)}
	}
	s.words = words
	for _, c := range s.Change {
		if err := c.Check(); err != nil {
			return s, usageError{fmt.Errorf("settings %s: %w", path, err)}
		}
	}
	s.Review.Changes = s.Change
	return s, s.readStandard()
}

// readStandard reads the saved standard that the settings or a flag name.
func (s *settings) readStandard() error {
	if s.Standard == "" {
		return nil
	}
	raw, err := os.ReadFile(s.Standard)
	if err != nil {
		return usageError{fmt.Errorf("standard: %w", err)}
	}
	if s.Review.Standard, err = review.ReadStandard(raw); err != nil {
		return usageError{fmt.Errorf("standard %s: %w", s.Standard, err)}
	}
	return nil
}

// decodeSettings refuses unknown keys and shows the line of every mistake.
func decodeSettings(raw []byte, s *settings) error {
	err := toml.NewDecoder(bytes.NewReader(raw)).DisallowUnknownFields().Decode(s)
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		return fmt.Errorf("unknown key:\n%s", strict.String())
	}
	var decode *toml.DecodeError
	if errors.As(err, &decode) {
		row, col := decode.Position()
		return fmt.Errorf("line %d, column %d: %w\n%s", row, col, err, decode.String())
	}
	return err
}

// open opens the store. With mustExist a missing file is nothing to report on,
// so that a mistyped path never makes an empty store.
func (a *app) open(ctx context.Context, s settings, mustExist bool) (*store.Store, error) {
	if _, err := os.Stat(s.Store); mustExist && errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no store at %s: load an export first ('afterfit load EXPORT'), or name the store with --store: %w", s.Store, errNothing)
	}
	return store.Open(ctx, s.Store, store.Options{Memory: s.Memory, Threads: s.Threads, TempDir: s.spill()})
}

// spill is the folder of this process's own that large sorts spill into; it goes when
// the store is closed. "" leaves the place to the store.
func (s *settings) spill() string {
	if s.Temp == "" {
		return ""
	}
	return filepath.Join(s.Temp, "afterfit-"+strconv.Itoa(os.Getpid()))
}

// begin reads the settings and opens the store that they name, as most commands do
// first. The caller closes the store.
func (a *app) begin(ctx context.Context, mustExist bool) (settings, *store.Store, error) {
	s, err := a.settings()
	if err != nil {
		return s, nil, err
	}
	st, err := a.open(ctx, s, mustExist)
	return s, st, err
}
