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
// clinician's own. The notes are sentences about what was left out.
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
	return c, dataNotes(c, unobserved), nil
}

// dataNotes says in sentences what the figures leave out.
func dataNotes(c Coverage, unobserved int64) []string {
	notes := []string{}
	add := func(n int64, text string) {
		if n > 0 {
			notes = append(notes, fmt.Sprintf(text, n))
		}
	}
	add(c.Undelivered, "%d dentures without a day of delivery are not followed.")
	add(unobserved, "%d dentures delivered after the end of observation are not followed.")
	add(c.NoArchVisits, "%d visits name no arch; they count for no denture.")
	add(c.BeforeDelivery, "%d visits before the case's first delivery count for no denture.")
	add(c.SetAside, "%d rows of the exports were set aside; 'afterfit ask set-aside' lists them.")
	return notes
}
