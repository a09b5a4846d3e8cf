//go:build bench && unix

package review

import (
	"context"
	"database/sql"

	"afterfit/internal/store"
)

// Family is a group of questions that is timed together.
type Family struct {
	Name string
	Ask  func(context.Context) error
}

// Families gives the questions of the pack, family by family, on one connection.
func Families(ctx context.Context, st *store.Store, s Settings) ([]Family, func() error, error) {
	q, err := newAsker(ctx, st, s)
	if err != nil {
		return nil, nil, err
	}
	f := &Findings{}
	ask := func(name string, fn func(context.Context) error) Family { return Family{name, fn} }
	return []Family{
		ask("coverage", func(ctx context.Context) (err error) { f.Coverage, f.Notes, err = q.coverage(ctx); return err }),
		ask("figures, groups, bands, curves", func(ctx context.Context) error { return q.outcomes(ctx, f) }),
		ask("habits and same values", func(ctx context.Context) (err error) {
			if f.Habits, err = q.habits(ctx); err == nil {
				f.Same, err = q.sameValues(ctx)
			}
			return err
		}),
		ask("fields and zones", func(ctx context.Context) (err error) {
			if f.Fields, err = q.fields(ctx); err == nil {
				f.Zones, err = q.zones(ctx)
			}
			return err
		}),
		ask("cases to open and lesions", func(ctx context.Context) (err error) {
			if f.Open, err = q.openCases(ctx, false); err == nil {
				f.Lesions, err = q.lesions(ctx)
			}
			return err
		}),
		ask("habits beside outcomes", func(ctx context.Context) (err error) { f.Pairs, err = q.allPairs(ctx); return err }),
		ask("units, charts, changes", func(ctx context.Context) error { return q.beside(ctx, f) }),
	}, q.c.Close, nil
}

// Link builds the linked tables anew.
func Link(ctx context.Context, st *store.Store, s Settings) error {
	err := st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error { return st.SetMeta(ctx, c, linkKey, "") })
	if err != nil {
		return err
	}
	return EnsureLinked(ctx, st, s)
}
