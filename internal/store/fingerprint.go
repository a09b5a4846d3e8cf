package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"

	"afterfit/internal/bundle"
)

// Fingerprint is the SHA-256, in hex, of the number of rows of each of the contract's
// tables and of the sum of their rows' MD5 values, taken in two halves of 64 bits. Row
// order, load numbers, the moment of loading and the number of threads do not enter it;
// two stores with the same rows have the same fingerprint. Sums need no memory that
// grows with the rows. It tells contents apart; it is no seal against somebody who
// builds rows so that their sums agree.
func (s *Store) Fingerprint(ctx context.Context) (string, error) {
	sum := sha256.New()
	for _, t := range bundle.Tables {
		var n int64
		var low, high string
		q := fmt.Sprintf(`SELECT count(*), coalesce(sum(md5_number_lower(r)), 0)::VARCHAR, coalesce(sum(md5_number_upper(r)), 0)::VARCHAR
	FROM (SELECT %s AS r FROM main.%s)`, rowText(t), t.Name)
		if err := s.db.QueryRowContext(ctx, q).Scan(&n, &low, &high); err != nil {
			return "", fmt.Errorf("fingerprint of %s: %w", t.Name, err)
		}
		fmt.Fprintf(sum, "%s %d %s %s\n", t.Name, n, low, high)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// fingerprintKind names the way in which fingerprints are made; another way has another
// name, so that a fingerprint noted by an earlier program is not taken for one of this.
const fingerprintKind = "sums of MD5"

// The names under which the store notes its last fingerprint, and of which loads it is.
const fingerprintKey, fingerprintOfKey = "fingerprint", "fingerprint_of"

// KnownFingerprint is the fingerprint noted for the loads that the ledger lists, worked
// out and noted where there is none yet. Rows that were changed past the ledger do not
// show in it; Verify works it out anew.
func (s *Store) KnownFingerprint(ctx context.Context) (string, error) {
	if noted, err := s.notedFingerprint(ctx); err != nil || noted != "" {
		return noted, err
	}
	of, err := s.contentName(ctx)
	if err != nil {
		return "", err
	}
	made, err := s.Fingerprint(ctx)
	if err != nil || s.readOnly {
		return made, err
	}
	return made, s.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		return errors.Join(s.SetMeta(ctx, c, fingerprintKey, made), s.SetMeta(ctx, c, fingerprintOfKey, of))
	})
}

// notedFingerprint is the fingerprint noted for the present loads, "" if there is none.
func (s *Store) notedFingerprint(ctx context.Context) (string, error) {
	of, err := s.contentName(ctx)
	if err != nil {
		return "", err
	}
	have, err := s.Meta(ctx, fingerprintOfKey)
	if err != nil || have != of {
		return "", err
	}
	return s.Meta(ctx, fingerprintKey)
}

// contentName names the ledger's loads and the number of rows of every table.
func (s *Store) contentName(ctx context.Context) (string, error) {
	sum := sha256.New()
	fmt.Fprintln(sum, fingerprintKind)
	q := "SELECT 0 AS place, coalesce(string_agg(load_id || ' ' || coalesce(content_sha256, ''), ',' ORDER BY load_id), '') FROM main.loads WHERE load_id NOT IN (SELECT load_id FROM main.undone)"
	for i, t := range bundle.Tables {
		q += fmt.Sprintf(" UNION ALL SELECT %d, count(*)::VARCHAR FROM main.%s", i+1, t.Name)
	}
	rows, err := s.db.QueryContext(ctx, q+" ORDER BY place")
	if err != nil {
		return "", err
	}
	defer func() { _ = rows.Close() }() // only read from
	for rows.Next() {
		var place int
		var part string
		if err := rows.Scan(&place, &part); err != nil {
			return "", err
		}
		fmt.Fprintln(sum, part)
	}
	return hex.EncodeToString(sum.Sum(nil)), rows.Err()
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
