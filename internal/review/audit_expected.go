package review

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
)

// auditExpected sets each delivered denture beside like dentures of other patients:
// the mean cumulative number of visits and spots, and the risk of a remake.
func (q *asker) auditExpected(ctx context.Context, a *Audit) error {
	a.Expected = []AuditExpected{}
	if err := q.exec(ctx, "audit_like", a.Case.ID, q.s.MinDentures); err != nil {
		return err
	}
	for _, r := range q.recurrents() {
		if r.outcome == Minutes {
			continue // follows the visits
		}
		if err := q.expectedCounts(ctx, a, r); err != nil {
			return err
		}
	}
	for _, f := range q.firsts() {
		if f.outcome == Remake {
			return q.expectedFirsts(ctx, a, f)
		}
	}
	return nil
}

func (q *asker) expectedCounts(ctx context.Context, a *Audit, r recurrent) error {
	groups, order, err := q.prepare(ctx, r)
	if err != nil {
		return err
	}
	squares, err := q.squares(ctx, "recurrent_squares", true)
	if err != nil {
		return err
	}
	asMany, err := q.asMany(ctx, a.Case.ID, r)
	if err != nil {
		return err
	}
	r.scale, r.unit = 1, "per denture"
	for _, d := range a.Dentures {
		k, ok := likeKey(order, d.Arch)
		if d.Delivered == nil || !ok {
			continue
		}
		x := AuditExpected{Arch: d.Arch, Outcome: r.outcome, Observed: d.Visits, Days: min(d.RiskDays, int64(r.days)), Level: likeLevel(k), AsMany: asMany[d.Arch]}
		if r.outcome == SoreSpots {
			x.Observed = d.Spots
		}
		if x.Like, err = q.recurrentEstimate(r, groups[k], squares[k]); err != nil {
			return fmt.Errorf("dentures like the %s of %s: %w", d.Arch, a.Case.ID, err)
		}
		if err := x.shorten(groups[k], r.days); err != nil {
			return err
		}
		x.Like.Query = "audit_like"
		a.Expected = append(a.Expected, x)
	}
	return nil
}

// shorten scales the window's mean and limits to the share that has fallen due by the
// end of a follow-up that is shorter than the window.
func (x *AuditExpected) shorten(like *recurrentCounts, days int) error {
	if x.Days >= int64(days) || x.Like.Value <= 0 {
		return nil
	}
	row, err := like.mean(int(x.Days))
	if err != nil {
		return err
	}
	share := Num(row.Mean) / x.Like.Value
	x.Like.Value, x.Like.Low, x.Like.High = Num(row.Mean), x.Like.Low*share, x.Like.High*share
	x.Like.Method += fmt.Sprintf("; scaled to the %d days that this denture was followed", x.Days)
	return nil
}

func (q *asker) expectedFirsts(ctx context.Context, a *Audit, f first) error {
	patients, err := q.patients(ctx)
	if err != nil {
		return err
	}
	estimates, order, err := q.firstEstimates(ctx, f, patients)
	if err != nil {
		return err
	}
	for _, d := range a.Dentures {
		k, ok := likeKey(order, d.Arch)
		if d.Delivered == nil || !ok {
			continue
		}
		x := AuditExpected{Arch: d.Arch, Outcome: f.outcome, Days: min(d.RiskDays, int64(f.days)), Level: likeLevel(k), Like: estimates[k]}
		if d.EndReason == "remade" && d.RiskDays <= int64(f.days) {
			x.Observed = 1
		}
		x.Like.Query = "audit_like"
		x.AsMany = x.Like // the share that was remade is the same figure
		a.Expected = append(a.Expected, x)
	}
	return nil
}

// asMany is, by arch, the share of like dentures followed as long that needed as many or more.
func (q *asker) asMany(ctx context.Context, id string, r recurrent) (map[string]Estimate, error) {
	out := map[string]Estimate{}
	err := q.each(ctx, "audit_as_many", func(rows *sql.Rows) error {
		var arch string
		var n, k int64
		if err := rows.Scan(&arch, &n, &k); err != nil {
			return err
		}
		e, err := q.share(k, n, "% of dentures", "audit_as_many")
		out[arch] = e
		return err
	}, id, r.outcome, r.days)
	return out, err
}

// likeKey finds the group of like dentures of an arch; there is none where no other
// patient has a denture of that arch.
func likeKey(order []groupKey, arch string) (groupKey, bool) {
	for _, k := range order {
		if strings.HasPrefix(k.code, arch+"|") {
			return k, true
		}
	}
	return groupKey{}, false
}

func likeLevel(k groupKey) string {
	_, level, _ := strings.Cut(k.code, "|")
	return level
}
