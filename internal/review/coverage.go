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
	loads, err := standingLoads(ctx, q.c)
	invented = len(loads) > 0
	for i, l := range loads {
		if i == 0 {
			basis = l.basis.String
		} else if l.basis.String != loads[0].basis.String {
			basis = "mixed"
		}
		invented = invented && l.invented.Bool
	}
	return basis, invented, err
}

// coverageRow is a row of coverage, or of coverage_clinicians behind its first column.
type coverageRow struct {
	Coverage
	unobserved, fullYear, attended int64
	median                         sql.NullFloat64
}

func (r *coverageRow) into() []any {
	return []any{&r.FirstPeriod, &r.LastPeriod, &r.Cases, &r.Patients, &r.Sites, &r.Clinicians, &r.Delivered, &r.Undelivered,
		&r.unobserved, &r.median, &r.fullYear, &r.attended, &r.NoArchVisits, &r.BeforeDelivery, &r.SetAside}
}

// coverage says what all figures stand on. The notes are sentences about what else was
// left out.
func (q *asker) coverage(ctx context.Context) (Coverage, []string, error) {
	var r coverageRow
	err := q.eachFilled(ctx, "coverage", linkFill, func(rows *sql.Rows) error { return rows.Scan(r.into()...) }, q.s.AdjustmentDays)
	if err != nil {
		return r.Coverage, nil, err
	}
	return q.covered(r)
}

// ownCoverage says what each clinician's own figures stand on.
func (q *asker) ownCoverage(ctx context.Context) (map[string]coverageRow, error) {
	out := map[string]coverageRow{}
	err := q.eachFilled(ctx, "coverage_clinicians", linkFill, func(rows *sql.Rows) error {
		var code string
		var r coverageRow
		err := rows.Scan(append([]any{&code}, r.into()...)...)
		out[code] = r
		return err
	}, q.s.AdjustmentDays)
	return out, err
}

// covered works out the shares of a row, and its notes.
func (q *asker) covered(r coverageRow) (Coverage, []string, error) {
	c := r.Coverage
	c.MedianFollowUp = Num(math.NaN())
	if r.median.Valid {
		c.MedianFollowUp = Num(r.median.Float64)
	}
	var err error
	if c.FullYear, err = q.share(r.fullYear, c.Delivered, "% of dentures", "coverage"); err != nil {
		return c, nil, err
	}
	if c.Attended, err = q.share(r.attended, c.Delivered, "% of dentures", "coverage"); err != nil {
		return c, nil, err
	}
	notes := []string{} // what the coverage's own numbers do not say
	if r.unobserved > 0 {
		notes = append(notes, fmt.Sprintf("%d dentures delivered after the end of observation are not followed.", r.unobserved))
	}
	return c, notes, nil
}
