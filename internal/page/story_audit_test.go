package page

import (
	"fmt"
	"math"

	"afterfit/internal/bundle"
	"afterfit/internal/review"
)

func day(n int64) *int64 { return &n }

// storyAudit is one invented case with everything on its page.
func storyAudit() *review.Audit {
	f, nan := story(), review.Num(math.NaN())
	spot := func(arch, zone, side string, grade int64) review.AuditSpot {
		return review.AuditSpot{Arch: arch, Zone: zone, Side: side, Grade: grade}
	}
	like := func(v, low, high float64, n int64) review.Estimate {
		e := est(v, low, high, n, int64(v*float64(n)), "per denture")
		e.Query = "audit_like"
		return e
	}
	a := &review.Audit{Schema: 1, Version: f.Version, Fingerprint: f.Fingerprint, Basis: f.Basis, Invented: true, AsOf: f.AsOf, Rule: review.PickWorst, Place: 1,
		Case: review.AuditCase{ID: "K-0871", AgeBand: "70-79", Sex: "female", RidgeClass: 3, Prior: "unsound", Operator: "student", ObservedTo: 640, ObservedEnd: "export", SuggestedByMM: 2.18},
		Dentures: []review.AuditDenture{{Arch: "upper", Delivered: day(23), End: day(350), EndReason: "remade", RiskDays: 327, Visits: 3, Spots: 3, Minutes: 78},
			{Arch: "lower", Delivered: day(23), End: day(640), EndReason: "export", RiskDays: 617, Visits: 5, Spots: 6, Minutes: 95}},
		Visits: []review.AuditVisit{
			{Number: 1, Day: 24, Arch: "both", Reason: "planned", Adjusted: true, Minutes: day(31), Complaints: "sore|bite", LesionReview: "no",
				Spots: []review.AuditSpot{spot("lower", "retromylohyoid", "left", 1), spot("lower", "ridge_crest_back", "left", 1), spot("upper", "tuberosity", "right", 1)}},
			{Number: 2, Day: 29, Arch: "lower", Reason: "urgent", Adjusted: true, Complaints: "sore", Spots: []review.AuditSpot{spot("lower", "retromylohyoid", "left", 2), spot("lower", "ridge_crest_back", "left", 2)}},
			{Number: 3, Day: 31, Arch: "lower", Reason: "complaint", Adjusted: true, Minutes: day(18), Spots: []review.AuditSpot{spot("lower", "torus", "", 0)}},
			{Number: 4, Day: 33, Reason: "planned", Complaints: "none", Spots: []review.AuditSpot{}},
			{Number: 5, Day: 55, Arch: "lower", Reason: "planned", Adjusted: false, Minutes: day(10), Complaints: "sore", LesionReview: "no", Spots: []review.AuditSpot{spot("lower", "retromylohyoid", "left", 3)}},
		},
		Repairs: []review.AuditRepair{{Arch: "lower", Day: 200, Scope: "reline", Cause: "fit"}, {Arch: "upper", Day: 350, Scope: "remake"}},
		Values: []review.AuditValue{
			{Field: "freeway_mm", Value: 0.5, UsualLow: 1, UsualHigh: 5, Usual: "common practice, no source: 1 to 5 mm is subtracted from rest", P5: 0.5, P50: 2.5, P95: 5.5, N: 3338},
			{Field: "vdr_mm", Value: nan, UsualLow: nan, UsualHigh: nan, Usual: "no published value; local data only", P5: 61, P50: 68, P95: 75, N: 3425},
			{Field: "lip_mm", Value: 29, UsualLow: nan, UsualHigh: nan, Usual: "no published value; local data only", P5: 15, P50: 21, P95: 27, N: 3431},
			{Arch: "lower", Field: "clearance_max_mm", Value: 1.5, UsualLow: 1, UsualHigh: 2, Usual: "common practice, no source: an even 1 to 2 mm for polyvinyl siloxane", P5: 1, P50: 2, P95: 4, N: 3500}},
		Entries: []review.AuditEntry{{Field: "vertical_basis", Code: "existing_denture", Same: share(31, 3900)}, {Arch: "lower", Field: "touches", Code: "ridge|tongue", Same: share(3, 3500)}},
		Habits:  []review.AuditHabit{{Habit: "freeway_low", Arches: []string{"upper", "lower"}}, {Habit: "clearance_over_2", Arches: []string{"upper"}}},
		Expected: []review.AuditExpected{{Arch: "upper", Outcome: review.Adjustments, Observed: 3, Days: 90, Level: "ridge_prior", Like: like(1.42, 1.2, 1.66, 324), AsMany: share(9, 310)},
			{Arch: "lower", Outcome: review.Adjustments, Observed: 5, Days: 90, Level: "ridge", Like: like(2.5, 2.29, 2.77, 312), AsMany: share(0, 305)},
			{Arch: "lower", Outcome: review.Remake, Observed: 0, Days: 365, Level: "arch", Like: fewer(4), AsMany: fewer(4)}},
		Patterns: []review.AuditPattern{{ID: "one_side", Arch: "lower", Sees: "The ridge crest is sore on one side only.", LookAt: "a bite error on that side", Source: "common practice, no source"}},
		Lesions:  []review.Lesion{{CaseID: "K-0871", Arch: "lower", Zone: "retromylohyoid", Side: "left", FirstDay: 24, LastDay: 55, Level: "check"}},
		Questions: []review.AuditQuestion{{ID: review.AskReview, About: "lower|retromylohyoid|left"}, {ID: review.AskRecord, About: "vdr_mm"}, {ID: review.AskHabit, About: "freeway_low"},
			{ID: review.AskMore, About: "upper"}, {ID: review.AskFewer, About: "lower"}, {ID: review.AskAgain, About: "lower|ridge_crest_back|left"}, {ID: review.AskCause, About: "upper"}, {ID: review.AskSimilar}, {ID: review.AskNextTime}},
	}
	for i, z := range bundle.Zones("lower")[4:8] {
		a.Pointers = append(a.Pointers, review.AuditPointer{Arch: "lower", Zone: z, Sides: []string{"left", ""}, Visits: []int{1, i + 2}, LookAt: "an over-long flange", Source: "common practice, no source"})
	}
	for i := range int64(5) {
		a.Similar = append(a.Similar, review.SimilarCase{ID: fmt.Sprintf("K-19%02d", i), RidgeFar: i / 3, PriorFar: i % 2, AgeFar: i - 1, FreewayFar: i, ClearanceFar: i - 2, Followed: 90 + 40*i, Visits: i, Spots: 2 * i})
	}
	a.Similar[1].Remade, a.Similar[2].Relined = "upper|lower", "lower"
	return a
}

// hostileAudit puts the hostile names wherever a bundle's own text can reach.
func hostileAudit() *review.Audit {
	a := storyAudit()
	h := func(i int) string { return hostileCodes[i%len(hostileCodes)] }
	a.Case = review.AuditCase{ID: h(0), AgeBand: h(1), Sex: h(2), Prior: h(3), Course: h(4), Operator: h(5), ObservedTo: 640, ObservedEnd: h(6)}
	a.Rule, a.Version, a.Fingerprint, a.Basis = h(0), h(1), h(2), h(0)
	for i := range hostileCodes {
		a.Visits[i%5].Arch, a.Visits[i%5].Reason, a.Visits[i%5].Complaints, a.Visits[i%5].LesionReview = h(i), h(i), h(i+1), h(i+2)
		a.Visits[0].Spots = append(a.Visits[0].Spots, review.AuditSpot{Arch: "lower", Zone: h(i), Side: h(i + 1), Grade: 9})
		a.Repairs = append(a.Repairs, review.AuditRepair{Arch: h(i), Day: 400, Scope: h(i + 1), Cause: h(i + 2)})
		a.Entries = append(a.Entries, review.AuditEntry{Arch: h(i), Field: h(i + 1), Code: h(i + 2), Same: share(3, 100)})
		a.Values = append(a.Values, review.AuditValue{Arch: h(i), Field: h(i + 1), Value: 3, UsualLow: 1, UsualHigh: 2, Usual: h(i), P5: 1, P50: 2, P95: 3, N: 10})
		a.Habits = append(a.Habits, review.AuditHabit{Habit: h(i), Arches: []string{h(i)}})
		a.Pointers = append(a.Pointers, review.AuditPointer{Arch: h(i), Zone: h(i), Sides: []string{h(i)}, LookAt: h(i), Source: h(i)})
		a.Lesions = append(a.Lesions, review.Lesion{CaseID: h(i), Arch: h(i), Zone: h(i), Side: h(i), LastDay: 20, Level: h(i)})
		a.Similar = append(a.Similar, review.SimilarCase{ID: h(i), Remade: h(i), Relined: h(i)})
		a.Questions = append(a.Questions, review.AuditQuestion{ID: review.AskReview, About: h(i) + "|" + h(i) + "|" + h(i)}, review.AuditQuestion{ID: review.AskRecord, About: h(i)}, review.AuditQuestion{ID: h(i), About: h(i)})
		a.Dentures[0].Arch, a.Dentures[0].EndReason = h(3), h(i)
	}
	return a
}

// bareAudit is a case of which next to nothing is known.
func bareAudit() *review.Audit {
	return &review.Audit{Version: "0.1.0", Fingerprint: "00", Rule: "named", Case: review.AuditCase{ID: "K-1", ObservedTo: 0}, Dentures: []review.AuditDenture{{Arch: "lower"}},
		Questions: []review.AuditQuestion{{ID: review.AskNextTime}}}
}
