package review

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"strings"

	"afterfit/internal/store"
)

// UnknownCase says that a store has no case of that id; Near are the ids most like it.
type UnknownCase struct {
	ID   string
	Near []string
}

func (e *UnknownCase) Error() string {
	if len(e.Near) == 0 {
		return fmt.Sprintf("there is no case %q", e.ID)
	}
	return fmt.Sprintf("there is no case %q; the nearest ids are %s", e.ID, strings.Join(e.Near, ", "))
}

// Audits lays each case open that pick finds, or that is named where pick is nil, in
// that order. The error for an id that does not exist is an *UnknownCase; no case at
// all is no error.
func Audits(ctx context.Context, st *store.Store, s Settings, h Header, ids []string, pick *Pick) ([]Audit, error) {
	q, err := newAsker(ctx, st, s)
	if err != nil {
		return nil, err
	}
	defer q.close()
	base := Audit{Schema: SchemaVersion, Version: h.Version, AsOf: h.AsOf, Rule: "named"}
	if base.Fingerprint, err = st.KnownFingerprint(ctx); err != nil {
		return nil, err
	}
	if base.Basis, base.Invented, err = q.origin(ctx); err != nil {
		return nil, err
	}
	if pick != nil {
		base.Rule = pick.Rule
		if ids, err = q.pick(ctx, *pick); err != nil {
			return nil, err
		}
	}
	lesions, err := q.lesions(ctx)
	if err != nil {
		return nil, err
	}
	out := []Audit{}
	for i, id := range ids {
		a := base
		a.Case.ID = id
		if pick != nil {
			a.Place = i + 1
		}
		if err := q.audit(ctx, &a, lesions); err != nil {
			return nil, err
		}
		out = append(out, a)
	}
	return out, nil
}

// audit fills one case's page.
func (q *asker) audit(ctx context.Context, a *Audit, lesions []Lesion) error {
	for _, step := range []func(context.Context, *Audit) error{
		q.auditCase, q.auditDentures, q.auditVisits, q.auditSpots, q.auditRepairs, q.auditValues, q.auditEntries, q.auditHabits, q.auditExpected, q.auditSimilar,
	} {
		if err := step(ctx, a); err != nil {
			return err
		}
	}
	a.Lesions = []Lesion{}
	for _, l := range lesions {
		if l.CaseID == a.Case.ID {
			l.Clinician = "" // an audit names nobody
			a.Lesions = append(a.Lesions, l)
		}
	}
	a.Pointers, a.Patterns = auditPointers(a), auditPatterns(a)
	a.Questions = auditQuestions(a)
	return nil
}

func (q *asker) auditCase(ctx context.Context, a *Audit) error {
	found := false
	err := q.each(ctx, "audit_case", func(rows *sql.Rows) error {
		found = true
		c := &a.Case
		var suggested sql.NullFloat64
		err := rows.Scan(&c.AgeBand, &c.Sex, &c.RidgeClass, &c.Prior, &c.Course, &c.Operator, &c.ObservedTo, &c.ObservedEnd, &suggested)
		c.SuggestedByMM = orNaN(suggested)
		return err
	}, a.Case.ID)
	if err != nil || found {
		return err
	}
	unknown := &UnknownCase{ID: a.Case.ID}
	err = q.each(ctx, "audit_near", func(rows *sql.Rows) error {
		var id string
		err := rows.Scan(&id)
		unknown.Near = append(unknown.Near, id)
		return err
	}, a.Case.ID)
	if err != nil {
		return err
	}
	return unknown
}

func orNaN(v sql.NullFloat64) Num {
	if !v.Valid {
		return Num(math.NaN())
	}
	return Num(v.Float64)
}

func (q *asker) auditDentures(ctx context.Context, a *Audit) error {
	a.Dentures = []AuditDenture{}
	return q.each(ctx, "audit_dentures", func(rows *sql.Rows) error {
		var d AuditDenture
		err := rows.Scan(&d.Arch, &d.Delivered, &d.End, &d.EndReason, &d.RiskDays, &d.Visits, &d.Spots, &d.Minutes)
		a.Dentures = append(a.Dentures, d)
		return err
	}, a.Case.ID)
}

func (q *asker) auditVisits(ctx context.Context, a *Audit) error {
	a.Visits = []AuditVisit{}
	return q.each(ctx, "audit_visits", func(rows *sql.Rows) error {
		v := AuditVisit{Number: len(a.Visits) + 1, Spots: []AuditSpot{}}
		err := rows.Scan(&v.key, &v.Day, &v.Arch, &v.Reason, &v.Adjusted, &v.Minutes, &v.Complaints, &v.LesionReview)
		a.Visits = append(a.Visits, v)
		return err
	}, a.Case.ID)
}

func (q *asker) auditSpots(ctx context.Context, a *Audit) error {
	at := map[string]int{}
	for i, v := range a.Visits {
		at[v.key] = i
	}
	return q.each(ctx, "audit_spots", func(rows *sql.Rows) error {
		var key string
		var p AuditSpot
		err := rows.Scan(&key, &p.Arch, &p.Zone, &p.Side, &p.Grade)
		v := &a.Visits[at[key]]
		v.Spots = append(v.Spots, p)
		return err
	}, a.Case.ID)
}

func (q *asker) auditRepairs(ctx context.Context, a *Audit) error {
	a.Repairs = []AuditRepair{}
	return q.each(ctx, "audit_repairs", func(rows *sql.Rows) error {
		var r AuditRepair
		err := rows.Scan(&r.Arch, &r.Day, &r.Scope, &r.Cause)
		a.Repairs = append(a.Repairs, r)
		return err
	}, a.Case.ID)
}

func (q *asker) auditValues(ctx context.Context, a *Audit) error {
	a.Values = []AuditValue{}
	return q.each(ctx, "audit_values", func(rows *sql.Rows) error {
		v := AuditValue{Query: "audit_values"}
		var own sql.NullFloat64
		var p5, p50, p95 float64
		if err := rows.Scan(&v.Arch, &v.Field, &own, &p5, &p50, &p95, &v.N); err != nil {
			return err
		}
		v.Value, v.P5, v.P50, v.P95 = orNaN(own), Num(p5), Num(p50), Num(p95)
		v.UsualLow, v.UsualHigh, v.Usual = q.usual(v.Field, a.Case.SuggestedByMM)
		a.Values = append(a.Values, v)
		return nil
	}, a.Case.ID)
}

// usual is the range of a field that is common practice or published, with its
// source; NaN where there is none.
func (q *asker) usual(field string, suggested Num) (low, high Num, source string) {
	switch field {
	case "freeway_mm":
		return Num(q.s.FreewayLowMM), Num(q.s.FreewayHighMM), "common practice, no source: 1 to 5 mm is subtracted from rest"
	case "clearance_min_mm", "clearance_max_mm":
		return Num(q.s.ClearanceLowMM), Num(q.s.ClearanceHighMM), "common practice, no source: an even 1 to 2 mm for polyvinyl siloxane"
	case "display_target_mm":
		if suggested.Known() {
			return suggested - Num(q.s.DisplayFarMM), suggested + Num(q.s.DisplayFarMM),
				"2 mm either side of what the lip length suggests; Vig & Brundo 1978, values from memory; natural teeth"
		}
	}
	none := Num(math.NaN())
	return none, none, "no published value; local data only"
}

func (q *asker) auditEntries(ctx context.Context, a *Audit) error {
	a.Entries = []AuditEntry{}
	return q.each(ctx, "audit_entries", func(rows *sql.Rows) error {
		var e AuditEntry
		var same, n int64
		err := rows.Scan(&e.Arch, &e.Field, &e.Code, &same, &n)
		if err != nil {
			return err
		}
		unit := "% of cases"
		if e.Arch != "" {
			unit = "% of dentures"
		}
		e.Same, err = q.share(same, n, unit, "audit_entries")
		a.Entries = append(a.Entries, e)
		return err
	}, a.Case.ID)
}

func (q *asker) auditHabits(ctx context.Context, a *Audit) error {
	a.Habits = []AuditHabit{}
	return q.each(ctx, "audit_habits", func(rows *sql.Rows) error {
		var h AuditHabit
		var arches string
		err := rows.Scan(&h.Habit, &arches)
		h.Arches = strings.Split(arches, "|")
		a.Habits = append(a.Habits, h)
		return err
	}, a.Case.ID)
}

// similarCases is how many near cases a page shows.
const similarCases = 5

func (q *asker) auditSimilar(ctx context.Context, a *Audit) error {
	a.Similar = []SimilarCase{}
	return q.each(ctx, "audit_similar", func(rows *sql.Rows) error {
		var s SimilarCase
		err := rows.Scan(&s.ID, &s.RidgeFar, &s.PriorFar, &s.AgeFar, &s.SexFar, &s.FreewayFar, &s.ClearanceFar, &s.Followed, &s.Visits, &s.Spots, &s.Remade, &s.Relined)
		a.Similar = append(a.Similar, s)
		return err
	}, a.Case.ID, q.s.AdjustmentDays, similarCases)
}
