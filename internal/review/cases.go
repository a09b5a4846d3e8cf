package review

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/stats"
)

// zones counts sore spots by place.
func (q *asker) zones(ctx context.Context) ([]ZoneCount, error) {
	out := []ZoneCount{}
	err := q.each(ctx, "zones", func(rows *sql.Rows) error {
		z := ZoneCount{Arch: "lower"}
		var upper bool
		var place int
		var spots, n int64
		if err := rows.Scan(&upper, &place, &spots, &n); err != nil {
			return err
		}
		if upper {
			z.Arch = "upper"
		}
		z.Zone, z.Side = zonePlaces[place].zone, zonePlaces[place].side
		iv, err := stats.PoissonExact(spots, float64(n), q.s.Level)
		z.Estimate = Estimate{Value: Num(100 * float64(spots) / float64(n)), Low: Num(100 * iv.Low), High: Num(100 * iv.High), Level: q.s.Level,
			N: n, Events: spots, Unit: "per 100 dentures", Method: "count over dentures delivered, exact Poisson limits; spots of one patient counted as independent", Query: "zones", TooFew: q.tooFew(n), Warnings: cautions(stats.PoissonExactWarnings(spots))}
		out = append(out, z)
		return err
	})
	slices.SortFunc(out, func(a, b ZoneCount) int {
		return cmp.Or(strings.Compare(a.Arch, b.Arch), zonePlace{a.Zone, a.Side}.compare(zonePlace{b.Zone, b.Side}))
	})
	return out, err
}

// fields says how full each optional column is. The statement follows from the
// contract, so it is made from it rather than written out.
func (q *asker) fields(ctx context.Context) ([]FieldShare, error) {
	out := []FieldShare{}
	for _, t := range bundle.Tables {
		var cols []bundle.Column
		counts := []string{"count(*)", "count(*)"}
		for _, c := range t.Columns {
			if !c.Required && !slices.Contains(t.Key, c.Name) {
				cols = append(cols, c)
				counts = append(counts, "count("+c.Name+")")
			}
		}
		if t.Name == "trays" { // only an upper tray has a palate
			counts[1] = "count(*) FILTER (arch = 'upper')"
		}
		n := make([]int64, len(counts))
		into := make([]any, len(counts))
		for i := range n {
			into[i] = &n[i]
		}
		if err := q.c.QueryRowContext(ctx, "SELECT "+strings.Join(counts, ", ")+" FROM "+t.Name).Scan(into...); err != nil {
			return nil, fmt.Errorf("fields of %s: %w", t.Name, err)
		}
		for i, c := range cols {
			of := n[0]
			if c.Name == "palate_mm" {
				of = n[1]
			}
			if of == 0 {
				continue
			}
			e, err := q.share(min(n[i+2], of), of, "% of rows", "fields of "+t.Name)
			if err != nil {
				return nil, err
			}
			out = append(out, FieldShare{t.Name, c.Name, e})
		}
	}
	return out, nil
}

// openCases lists the most pressing of the cases that rules pick, the most pressing first:
// as many as the settings say in all, or of each clinician.
func (q *asker) openCases(ctx context.Context, each bool) ([]OpenCase, error) {
	type weighed struct {
		OpenCase
		weight int64
	}
	var all []weighed
	err := q.eachFilled(ctx, "open_cases", linkFill, func(rows *sql.Rows) error {
		var c OpenCase
		var rule, fact string
		var weight int64
		if err := rows.Scan(&c.CaseID, &c.Site, &c.Clinician, &rule, &fact, &weight); err != nil {
			return err
		}
		if n := len(all); n == 0 || all[n-1].CaseID != c.CaseID {
			all = append(all, weighed{OpenCase: c})
		}
		last := &all[len(all)-1]
		last.Reasons, last.Facts = append(last.Reasons, rule), append(last.Facts, fact)
		last.weight += weight
		return nil
	}, q.s.ManyVisits, q.s.OpenCases, each)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(all, func(a, b weighed) int {
		if a.weight != b.weight {
			return int(b.weight - a.weight)
		}
		return strings.Compare(a.CaseID, b.CaseID)
	})
	out := make([]OpenCase, len(all))
	for i, c := range all {
		out[i] = c.OpenCase
	}
	return out, nil
}

// lesions lists places that stayed sore without a recorded review: by level, clinician, case
// and place.
func (q *asker) lesions(ctx context.Context) ([]Lesion, error) {
	out := []Lesion{}
	err := q.eachFilled(ctx, "lesions", linkFill, func(rows *sql.Rows) error {
		l := Lesion{Arch: "lower"}
		var upper bool
		var place int
		err := rows.Scan(&l.CaseID, &l.Clinician, &upper, &place, &l.FirstDay, &l.LastDay, &l.Level)
		if upper {
			l.Arch = "upper"
		}
		l.Zone, l.Side = zonePlaces[place].zone, zonePlaces[place].side
		out = append(out, l)
		return err
	}, q.s.LookDays, q.s.CheckDays)
	slices.SortFunc(out, func(a, b Lesion) int {
		return cmp.Or(strings.Compare(a.Level, b.Level), strings.Compare(a.Clinician, b.Clinician), strings.Compare(a.CaseID, b.CaseID),
			strings.Compare(a.Arch, b.Arch), zonePlace{a.Zone, a.Side}.compare(zonePlace{b.Zone, b.Side}))
	})
	return out, err
}
