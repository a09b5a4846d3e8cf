package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"afterfit/internal/bundle"
)

// contentSums is what a fingerprint is made from, and of which loads it is.
type contentSums struct {
	Kind   string             `json:"kind"`
	Loads  []string           `json:"loads"` // number and SHA-256 of each
	Tables map[string]*rowSum `json:"tables"`
}

// rowSum is the number of rows and the sums of both halves of their MD5 values. Sums can
// be added and taken away: what a load changes can be worked out from its rows alone.
type rowSum struct {
	Rows int64    `json:"rows"`
	Low  *big.Int `json:"low"`
	High *big.Int `json:"high"`
}

func (a *rowSum) add(b *rowSum) {
	a.Rows += b.Rows
	a.Low.Add(a.Low, b.Low)
	a.High.Add(a.High, b.High)
}

func (a *rowSum) take(b *rowSum) {
	a.Rows -= b.Rows
	a.Low.Sub(a.Low, b.Low)
	a.High.Sub(a.High, b.High)
}

func (c *contentSums) fingerprint() string {
	sum := sha256.New()
	for _, t := range bundle.Tables {
		x := c.Tables[t.Name]
		fmt.Fprintf(sum, "%s %d %s %s\n", t.Name, x.Rows, x.Low, x.High)
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// wholeSums reads every row of the store.
func (s *Store) wholeSums(ctx context.Context) (*contentSums, error) {
	sums := &contentSums{Kind: fingerprintKind, Tables: map[string]*rowSum{}}
	var err error
	if sums.Loads, err = s.standingLoads(ctx); err != nil {
		return nil, err
	}
	for _, t := range bundle.Tables {
		if sums.Tables[t.Name], err = s.sumRows(ctx, t, "main."+t.Name); err != nil {
			return nil, err
		}
	}
	return sums, nil
}

// presentSums brings the sums noted last up to date where loads came since, and reads every
// row where none are noted or where a load that they are of was undone.
func (s *Store) presentSums(ctx context.Context) (*contentSums, error) {
	note, err := s.Meta(ctx, fingerprintSumsKey)
	if err != nil {
		return nil, err
	}
	loads, err := s.standingLoads(ctx)
	if err != nil {
		return nil, err
	}
	var sums contentSums
	if json.Unmarshal([]byte(note), &sums) != nil || sums.Kind != fingerprintKind {
		return s.wholeSums(ctx)
	}
	var since []string
	for _, l := range loads {
		if !slices.Contains(sums.Loads, l) {
			number, _, _ := strings.Cut(l, " ")
			since = append(since, number)
		}
	}
	if len(since)+len(sums.Loads) != len(loads) || len(since) == 0 {
		return s.wholeSums(ctx)
	}
	sums.Loads = loads
	for _, t := range bundle.Tables {
		x := sums.Tables[t.Name]
		if x == nil || x.Low == nil || x.High == nil {
			return s.wholeSums(ctx)
		}
		if err := s.follow(ctx, t, x, strings.Join(since, ", ")); err != nil {
			return nil, err
		}
		if n, err := s.count(ctx, "SELECT count(*) FROM main."+t.Name); err != nil {
			return nil, err
		} else if n != x.Rows {
			return s.wholeSums(ctx)
		}
	}
	return &sums, nil
}

// follow adds what the loads since brought and still stands, and takes away what they
// replaced of earlier ones. What one of them replaced of another was never in the sums.
func (s *Store) follow(ctx context.Context, t bundle.Table, x *rowSum, since string) error {
	came, err := s.sumRows(ctx, t, fmt.Sprintf("main.%s WHERE load_id IN (%s)", t.Name, since))
	if err != nil {
		return err
	}
	left, err := s.sumRows(ctx, t, fmt.Sprintf("%s.%s WHERE superseded_by IN (%[3]s) AND load_id NOT IN (%[3]s)", History, t.Name, since))
	if err != nil {
		return err
	}
	x.add(came)
	x.take(left)
	return nil
}

// sumRows sums rows; from is what stands after FROM.
func (s *Store) sumRows(ctx context.Context, t bundle.Table, from string) (*rowSum, error) {
	x := &rowSum{Low: new(big.Int), High: new(big.Int)}
	var low, high string
	q := fmt.Sprintf(`SELECT count(*), coalesce(sum(CAST(h & 18446744073709551615::UHUGEINT AS UBIGINT)), 0)::VARCHAR, coalesce(sum(CAST(h >> 64 AS UBIGINT)), 0)::VARCHAR
	FROM (SELECT md5_number(%s) AS h FROM %s)`, rowText(t), from)
	if err := s.db.QueryRowContext(ctx, q).Scan(&x.Rows, &low, &high); err != nil {
		return nil, fmt.Errorf("fingerprint of %s: %w", t.Name, err)
	}
	for into, text := range map[*big.Int]string{x.Low: low, x.High: high} {
		if _, ok := into.SetString(text, 10); !ok {
			return nil, fmt.Errorf("fingerprint of %s: %q is no number", t.Name, text)
		}
	}
	return x, nil
}

// standingLoads names the loads of the ledger that were not undone, by number and content.
func (s *Store) standingLoads(ctx context.Context) ([]string, error) {
	rows, err := s.db.QueryContext(ctx, "SELECT load_id || ' ' || coalesce(content_sha256, '') FROM main.loads WHERE "+Standing+" ORDER BY load_id")
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }() // only read from
	loads := []string{}
	for rows.Next() {
		var l string
		if err := rows.Scan(&l); err != nil {
			return nil, err
		}
		loads = append(loads, l)
	}
	return loads, rows.Err()
}
