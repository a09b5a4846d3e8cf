package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
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
	sums, err := s.wholeSums(ctx)
	if err != nil {
		return "", err
	}
	return sums.fingerprint(), nil
}

// fingerprintKind names the way in which fingerprints are made; another way has another
// name, so that a fingerprint noted by an earlier program is not taken for one of this.
const fingerprintKind = "sums of MD5, text of rows by concat"

// The names under which the store notes its last fingerprint, of which loads it is, and
// the sums that it was made from.
const fingerprintKey, fingerprintOfKey, fingerprintSumsKey = "fingerprint", "fingerprint_of", "fingerprint_sums"

// KnownFingerprint is the fingerprint noted for the loads that the ledger lists, worked
// out and noted where there is none yet. Where loads came since it was noted, only what
// they brought and replaced is read. Rows that were changed past the ledger do not
// show in it; Verify works it out anew.
func (s *Store) KnownFingerprint(ctx context.Context) (string, error) {
	if noted, err := s.notedFingerprint(ctx); err != nil || noted != "" {
		return noted, err
	}
	of, err := s.contentName(ctx)
	if err != nil {
		return "", err
	}
	sums, err := s.presentSums(ctx)
	if err != nil {
		return "", err
	}
	made := sums.fingerprint()
	if s.readOnly {
		return made, nil
	}
	note, err := json.Marshal(sums)
	if err != nil {
		return "", err
	}
	return made, s.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		return errors.Join(s.SetMeta(ctx, c, fingerprintKey, made), s.SetMeta(ctx, c, fingerprintOfKey, of), s.SetMeta(ctx, c, fingerprintSumsKey, string(note)))
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
// read the same: a text carries its length, and where nothing is recorded nothing is
// written, not even that. concat takes a third of the time of as many joins of two.
func rowText(t bundle.Table) string {
	parts := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		if parts[i] = c.Name; SQLType(c.Kind) == "VARCHAR" {
			parts[i] = fmt.Sprintf("length(%[1]s), ':', %[1]s", c.Name)
		}
	}
	return "concat(" + strings.Join(parts, ", ',', ") + ")"
}
