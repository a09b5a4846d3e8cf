package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
)

// Fingerprint is the SHA-256, in hex, of the current rows of the contract's
// tables. Row order, load numbers, the moment of loading and the number of threads
// do not enter it; two stores with the same rows have the same fingerprint.
func (s *Store) Fingerprint(ctx context.Context) (string, error) {
	sum := sha256.New()
	for _, t := range bundle.Tables {
		var n int64
		var rows string
		q := fmt.Sprintf("SELECT count(*), coalesce(sha256(string_agg(r, chr(10) ORDER BY r)), '') FROM (SELECT %s AS r FROM main.%s)", rowText(t), t.Name)
		if err := s.db.QueryRowContext(ctx, q).Scan(&n, &rows); err != nil {
			return "", fmt.Errorf("fingerprint of %s: %w", t.Name, err)
		}
		fmt.Fprintf(sum, "%s %d %s\n", t.Name, n, rows)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// rowText is an SQL expression that writes a row so that different rows never
// read the same: every value carries its length, and nothing recorded is "-".
func rowText(t bundle.Table) string {
	parts := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		v := "CAST(" + c.Name + " AS VARCHAR)"
		parts[i] = fmt.Sprintf("coalesce(length(%s) || ':' || %s, '-')", v, v)
	}
	return strings.Join(parts, " || ',' || ")
}
