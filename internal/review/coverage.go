package review

import (
	"context"
	"database/sql"
	"fmt"
	"math"
)

// origin reads what the loads say of themselves. The basis is the loads' common
// one, "mixed" where they differ; the data is invented only if every load says so.
func (q *asker) origin(ctx context.Context) (basis string, invented bool, err error) {
	seen := map[string]bool{}
	n := 0
	invented = true
	err = q.each(ctx, "ask_loads", func(rows *sql.Rows) error {
		var id int64
		var source, content, b sql.NullString
		var inv, complete sql.NullBool
		if err := rows.Scan(&id, &source, &content, &b, &inv, &complete); err != nil {
			return err
		}
		n++
		basis = b.String
		seen[basis] = true
		invented = invented && inv.Bool
		return nil
	})
	if len(seen) > 1 {
		basis = "mixed"
	}
	return basis, invented && n > 0, err
}

// coverage says what figures stand on: all cases for clinician "", else one
// clinician's own. The notes are sentences about what else was left out.
func (q *asker) coverage(ctx context.Context, clinician string) (Coverage, []string, error) {
	var c Coverage
	var who any
	if clinician != "" {
		who = clinician
	}
	var unobserved, fullYear, attended int64
	var median sql.NullFloat64
	err := q.each(ctx, "coverage", func(rows *sql.Rows) error {
		return rows.Scan(&c.FirstPeriod, &c.LastPeriod, &c.Cases, &c.Patients, &c.Sites, &c.Clinicians, &c.Delivered, &c.Undelivered,
			&unobserved, &median, &fullYear, &attended, &c.NoArchVisits, &c.BeforeDelivery, &c.SetAside)
	}, who, q.s.AdjustmentDays)
	if err != nil {
		return c, nil, err
	}
	c.MedianFollowUp = Num(math.NaN())
	if median.Valid {
		c.MedianFollowUp = Num(median.Float64)
	}
	if c.FullYear, err = q.share(fullYear, c.Delivered, "% of dentures", "coverage"); err != nil {
		return c, nil, err
	}
	if c.Attended, err = q.share(attended, c.Delivered, "% of dentures", "coverage"); err != nil {
		return c, nil, err
	}
	notes := []string{} // what the coverage's own numbers do not say
	if unobserved > 0 {
		notes = append(notes, fmt.Sprintf("%d dentures delivered after the end of observation are not followed.", unobserved))
	}
	return c, notes, nil
}
