package store

import (
	"os"
	"path/filepath"
)

// clearSpill takes away what a process that was killed had spilled beside its store:
// DuckDB leaves it there for good. The caller holds the lock on the store, so that
// nobody else is spilling. Files that are not DuckDB's stay.
func clearSpill(dir string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		if spilled, err := filepath.Match("duckdb_temp_*", e.Name()); err == nil && spilled {
			_ = os.Remove(filepath.Join(dir, e.Name()))
		}
	}
	_ = os.Remove(dir) // if it is empty
}
