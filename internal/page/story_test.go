package page

import (
	"fmt"
	"io"
	"math"

	"afterfit/internal/bundle"
	"afterfit/internal/chart"
	"afterfit/internal/review"
)

// This file holds the invented findings that every page test renders. The figures are
// made up to look like a service of this size and agree with nothing else.

func est(value, low, high float64, n, events int64, unit string) review.Estimate {
	return review.Estimate{Value: review.Num(value), Low: review.Num(low), High: review.Num(high), Level: 0.95, N: n, Events: events, Unit: unit, Method: "exact Poisson", Query: "canned"}
}

func share(percent float64, n int64) review.Estimate {
	half := 196 * math.Sqrt(percent/100*(1-percent/100)/float64(n))
	e := est(percent, math.Max(0, percent-half), percent+half, n, int64(percent*float64(n)/100), "%")
	e.Method = "Wilson"
	return e
}

func rate(per100 float64, n int64) review.Estimate {
	half := 196 * math.Sqrt(per100/100/float64(n))
	return est(per100, math.Max(0, per100-half), per100+half, n, int64(per100*float64(n)/100), "per 100 dentures")
}

func fewer(n int64) review.Estimate {
	return review.Estimate{Value: review.Num(math.NaN()), Low: review.Num(math.NaN()), High: review.Num(math.NaN()), Level: 0.95, N: n, Unit: "per 100 dentures", TooFew: fmt.Sprintf("Too few to tell: %d dentures.", n)}
}

func values(dimension string, base float64, n int64, f func(float64, int64) review.Estimate, codes ...string) []review.GroupValue {
	var out []review.GroupValue
	for i, c := range codes {
		wave := 1 + 0.25*math.Sin(float64(i)*1.7+float64(len(dimension)))
		out = append(out, review.GroupValue{Code: c, Estimate: f(base*wave, n+int64(37*i))})
	}
	return out
}

var quarters = []string{"2022-Q1", "2022-Q2", "2022-Q3", "2022-Q4", "2023-Q1", "2023-Q2", "2023-Q3", "2023-Q4", "2024-Q1", "2024-Q2", "2024-Q3", "2024-Q4"}

func storyCurve(outcome, group string, up bool, speed float64) review.Curve {
	c := review.Curve{Outcome: outcome, Group: group, Method: "Kaplan-Meier, log-log limits", Query: "canned", N: 3620}
	for day := int64(0); day <= 365; day += 5 {
		y := math.Exp(-float64(day) / speed)
		if up {
			y = 1 - y
		}
		w := 0.02 * math.Sqrt(math.Max(0, y*(1-y)))
		c.Points = append(c.Points, review.Point{Day: day, Y: review.Num(y), Low: review.Num(math.Max(0, y-2*w)), High: review.Num(math.Min(1, y+2*w)), AtRisk: 3620 - 4*day})
	}
	return c
}

// story is a full pack: every question answered.
func story() *review.Findings {
	f := &review.Findings{
		Schema: review.SchemaVersion, Version: "0.1.0", Fingerprint: "6f2c9d0e4b7a18553c0f9e21", Basis: "consented_local", Invented: true, AsOf: "2025-01-31",
		Coverage: review.Coverage{FirstPeriod: "2022-Q1", LastPeriod: "2024-Q4", Cases: 4000, Patients: 3871, Sites: 3, Clinicians: 14, Delivered: 7240, Undelivered: 61,
			MedianFollowUp: 412, FullYear: share(71.2, 7240), Attended: share(93.4, 7240), NoArchVisits: 118, BeforeDelivery: 7, SetAside: 12},
		Curves: []review.Curve{storyCurve("first_adjustment", "upper", false, 40), storyCurve("first_adjustment", "lower", false, 18), storyCurve(review.Remake, "all", true, 7000)},
		Notes:  []string{"Ridge class is missing in 22% of cases."},
	}
	heads := []struct {
		id   string
		base float64
		make func(float64, int64) review.Estimate
	}{{review.Adjustments, 148, rate}, {review.SoreSpots, 131, rate}, {review.Remake, 4.1, share}, {review.Minutes, 31, func(v float64, n int64) review.Estimate { return est(v, v*.93, v*1.08, n, 0, "minutes per denture") }}}
	for i, h := range heads {
		f.Headlines = append(f.Headlines, review.Headline{Outcome: h.id, Overall: h.make(h.base, 7240), Trend: values(fmt.Sprint(i), h.base, 600, h.make, quarters...)})
		f.Groups = append(f.Groups, review.Group{Outcome: h.id, Dimension: "arch", Values: values("a", h.base, 3600, h.make, "upper", "lower")},
			review.Group{Outcome: h.id, Dimension: "site", Values: values("si", h.base, 2200, h.make, "NORTH", "RIVER", "HILL")},
			review.Group{Outcome: h.id, Dimension: "ridge_class", Values: values("rc", h.base, 1300, h.make, "1", "2", "3", "4", "")})
	}
	clinicians := values("clin", 148, 300, rate, "C01", "C02", "C03", "C04", "C05", "C06", "C07", "C08", "C09", "C10", "C11", "C12", "C13")
	clinicians = append(clinicians, review.GroupValue{Code: "C14", Estimate: fewer(6)})
	f.Groups = append(f.Groups, review.Group{Outcome: review.Adjustments, Dimension: "clinician", Values: clinicians})
	storyBands(f)
	storyHabits(f)
	storyZones(f)
	storyLists(f)
	f.ZonesByHabit, f.Doses = storyContrasts(), storyDoses()
	storyUnits(f)
	return f
}

func storyBands(f *review.Findings) {
	for exposure, codes := range map[string][]string{"freeway": {"under 1 mm", "1 to 2 mm", "2 to 4 mm", "over 4 mm", "not_recorded"}, "clearance": {"under 1 mm", "1 to 2 mm", "over 2 mm", "not_recorded"}} {
		f.Bands = append(f.Bands, review.BandTable{Exposure: exposure, Outcome: review.Adjustments, Values: values(exposure, 150, 900, rate, codes...)},
			review.BandTable{Exposure: exposure, Outcome: review.Remake, Values: values(exposure, 4, 900, share, codes...)})
	}
	if f.Bands[0].Exposure != "freeway" { // a map has no order, and the pages must have one
		f.Bands = append(f.Bands[2:4:4], f.Bands[0:2:2]...)
	}
}

func storyHabits(f *review.Findings) {
	for i, id := range []string{"clearance_over_2", "vertical_copied_rest_unmeasured", "reading_ends_0_5", "one_centric_take", "lip_not_recorded", "freeway_low"} {
		base := 12 + 9*float64(i)
		f.Habits = append(f.Habits, review.HabitTable{Habit: id, All: share(base, 4000), Clinicians: values(id, base, 280, share, "C01", "C02", "C03", "C04"), Missing: int64(40 * i)})
	}
	f.Pairs = []review.Pair{
		storyPair("clearance_over_2", review.Adjustments, review.Clear, 1.37, 170, 812),
		storyPair("vertical_copied_rest_unmeasured", review.SoreSpots, review.Likely, 1.24, 128, 610, "q"),
		storyPair("freeway_low", review.Remake, review.Unclear, 1.2, 4, 900, "interval", "q"),
		storyPair("one_centric_take", review.Adjustments, review.NoSign, 0.99, 150, 2400, "interval", "q"),
		storyPair("display_far", review.Display, review.TooFew, math.NaN(), 4, 31, "few"),
		storyPair("lip_not_recorded", review.SoreSpots, review.NoSign, 1.01, 131, 800, "interval"),
	}
	f.Pairs[4].More, f.Pairs[4].Seen = 1207, 1.5
	f.Pairs[5].Control, f.Pairs[5].Q = true, review.Num(math.NaN())
	f.Strongest = []review.Pair{f.Pairs[0], f.Pairs[1]}
}

// storyPair is a pair whose ratio and rate without the habit are given; its interval is
// as wide as the grade needs.
func storyPair(id, outcome string, grade review.Grade, ratio, without float64, n int64, held ...string) review.Pair {
	nan := review.Num(math.NaN())
	compare := func(shift float64) review.Comparison {
		r, wide := ratio*shift, 1.06
		if len(held) > 0 {
			wide = 1.22
		}
		return review.Comparison{Ratio: est(r, r/wide, r*wide, n+5000, 0, "times"), With: rate(without*ratio, n), Without: rate(without, 5000),
			Difference: est(without*(r-1), without*(r/wide-1), without*(r*wide-1), n+5000, 0, "per 100 dentures"), Strata: 140, LeftOut: 61}
	}
	p := review.Pair{ID: id + "." + outcome, Habit: id, Outcome: outcome, Days: 90, Direction: "more", Stated: grade == review.Clear, Grade: grade, Held: held,
		Within: compare(1), CaseMix: compare(0.99), Crude: compare(1.04), Between: est(ratio, ratio/1.3, ratio*1.3, 6800, 0, "times"), Hands: est(ratio, ratio/1.1, ratio*1.1, 6800, 0, "times"),
		P: 0.0004, Q: 0.004, EValue: 2.08, ELimit: 1.93, Missing: rate(without*1.05, 379), Bounds: [2]review.Num{0.9, 1.6}, Adjusted: []string{"ridge_class"}}
	p.Saved = review.Saving{PerYear: est(373, 305, 441, 580, 0, "a year"), Minutes: est(8244, 6700, 9700, 580, 0, "minutes a year")}
	if grade == review.TooFew {
		p.Within.Ratio.TooFew, p.P, p.Q, p.EValue, p.ELimit = "Too few to tell: 4 events.", nan, nan, nan, nan
		p.Within.With.TooFew, p.Within.Difference.TooFew, p.Saved.PerYear.TooFew = "Too few to tell.", "Too few to tell.", "Too few to tell."
	}
	return p
}

func storyZones(f *review.Findings) {
	for _, arch := range []string{"upper", "lower"} {
		for i, zone := range bundle.Zones(arch) {
			for j, side := range []string{"left", "right", "middle", ""} {
				v := 0.4 + 5*math.Pow(math.Sin(float64(3*i+j)), 2)
				if !chart.Drawable(arch, zone, side) && (side != "" || i%4 > 0) {
					continue
				}
				if side == "" {
					v = 0.2
				}
				f.Zones = append(f.Zones, review.ZoneCount{Arch: arch, Zone: zone, Side: side, Estimate: rate(v, 3620)})
			}
		}
	}
}

func storyLists(f *review.Findings) {
	for _, t := range bundle.Tables[:4] {
		for i, c := range t.Columns {
			f.Fields = append(f.Fields, review.FieldShare{Table: t.Name, Column: c.Name, Recorded: share(99-7*float64(i%11), 4000)})
		}
	}
	for i := range 8 {
		f.Open = append(f.Open, review.OpenCase{CaseID: fmt.Sprintf("K-%04d", 1200+37*i), Site: "RIVER", Clinician: "C05", Reasons: []string{"many_visits"}, Facts: []string{fmt.Sprintf("%d adjustment visits in 90 days", 7+i)}})
	}
	f.Lesions = []review.Lesion{{CaseID: "K-0871", Clinician: "C03", Arch: "lower", Zone: "retromylohyoid", Side: "left", FirstDay: 31, LastDay: 55, Level: "check"},
		{CaseID: "K-2214", Clinician: "C09", Arch: "upper", Zone: "hamular_notch", Side: "right", FirstDay: 28, LastDay: 43, Level: "look"}}
}

// storySummary is one clinician's page with everything on it.
func storySummary() *review.Summary {
	f := story()
	peers := []review.Num{112, 120, 126, 131, 138, 141, 144, 149, 155, 160, 171, 178}
	low := []review.Num{4, 6, 8, 9, 11, 12, 12, 14, 15, 18, 22}
	shrunk := share(31, 288)
	return &review.Summary{Schema: 1, Version: f.Version, Fingerprint: f.Fingerprint, Basis: f.Basis, Invented: true, AsOf: f.AsOf, Clinician: "C05",
		Coverage: review.Coverage{FirstPeriod: "2022-Q1", LastPeriod: "2024-Q4", Cases: 288, Delivered: 520, MedianFollowUp: 398},
		Figures: []review.OwnFigure{{Outcome: review.Adjustments, Own: rate(181, 520), Colleagues: rate(144, 6720), Peers: peers},
			{Outcome: review.Remake, Own: share(4.6, 520), Colleagues: share(4.1, 6720), Peers: []review.Num{1.8, 2.9, 3.3, 4, 4.4, 5.2, 6.9}}},
		Habits: []review.OwnHabit{{Habit: "clearance_over_2", Own: share(38, 288), Colleagues: share(10, 3712), Peers: low, Shrunk: &shrunk},
			{Habit: "lip_not_recorded", Own: share(3, 288), Colleagues: share(12, 3712), Peers: low}},
		Same:      f.Same[:1],
		Strengths: []review.Strength{{Kind: "habit", ID: "lip_not_recorded", Own: share(3, 288), Colleagues: share(12, 3712)}},
		Try:       []review.Try{{Habit: "clearance_over_2", Own: share(38, 288), Colleagues: share(10, 3712), Pair: f.Strongest[0], Cases: []string{"K-1200", "K-1311", "K-1459"}}},
		Trend:     f.Headlines[0].Trend, Open: f.Open[:3], Lesions: f.Lesions[:1], Beside: storyBeside(), Notes: []string{"3 of your cases have no ridge class."}}
}

func storyOptions() Options { return Options{} }

// hostileCodes are names that would run, break out or break the layout if a page let
// them.
var hostileCodes = []string{`</script><script>window.__ran=1</script>`, `__f__(window.__ran=1)__f__`, `"><img src=x onerror="window.__ran=1">`,
	"\u202eRTL\u202c\u200b\u200dzero", "{{.}}${window.__ran=1}", `'-window.__ran-'`, longCode}

var longCode = func() string {
	b := make([]byte, 200)
	for i := range b {
		b[i] = 'W'
	}
	return string(b)
}()

// hostileStory puts the hostile names wherever a bundle's own text can reach.
func hostileStory() *review.Findings {
	f := story()
	for i := range f.Groups {
		for j := range f.Groups[i].Values {
			f.Groups[i].Values[j].Code = hostileCodes[j%len(hostileCodes)]
		}
	}
	for i := range f.Open {
		h := hostileCodes[i%len(hostileCodes)]
		f.Open[i] = review.OpenCase{CaseID: h, Site: h, Clinician: h, Reasons: []string{h}, Facts: []string{h}}
	}
	for i, h := range hostileCodes {
		f.Habits[i%len(f.Habits)].Habit = h
		f.Bands[i%len(f.Bands)].Values[0].Code = h
		f.Strongest[i%2].Habit, f.Pairs[i%6].Habit, f.Pairs[i%6].ID, f.Pairs[i%6].Outcome = h, h, h, []string{review.Remake, h}[i%2]
		f.Zones[i].Zone, f.Zones[i].Side = h, h
		f.Notes = append(f.Notes, h)
		f.ZonesByHabit[i].Habit, f.ZonesByHabit[i].Zone, f.ZonesByHabit[i].Side = h, h, h
		f.Fields[i].Table, f.Fields[i].Column = h, h
		f.Headlines[i%4].Trend[i].Code = h
		f.Lesions = append(f.Lesions, review.Lesion{CaseID: h, Clinician: h, Arch: h, Zone: h, Side: h, Level: h, LastDay: 20})
	}
	for i, h := range hostileCodes {
		t := &f.Units[i%len(f.Units)]
		for j := range t.Units {
			t.Units[j].Code = h
		}
		f.Times[i%len(f.Times)].Code = h
		f.Times[i%len(f.Times)].Points[i].Period = h
		c := &f.HabitTimes[i%len(f.HabitTimes)]
		c.Outcome, c.Code, c.Points[i].Period, c.Points[i].Beyond = review.HabitPrefix+h, h, h, 1
		f.Same[i%len(f.Same)].Habit, f.Same[i%len(f.Same)].Clinician = h, h
		f.Mix[0].Model.Terms[0].Levels[i%2].Level = h
		f.Mix[0].Notes = append(f.Mix[0].Notes, h)
	}
	f.Cusums[0].Code, f.Cusums[0].Dimension, f.Since.LastPeriod, f.Since.Findings[0].ID, f.Since.Units[0].ID = hostileCodes[0], "site", hostileCodes[2], hostileCodes[0], "site:"+hostileCodes[2]
	f.Changes[0].Change = review.Change{Name: hostileCodes[0], What: hostileCodes[1], Where: []string{hostileCodes[2]}, From: hostileCodes[0]}
	f.Changes[0].Estimates[0].Measure = "habit:" + hostileCodes[2]
	f.Coverage.FirstPeriod, f.Version, f.Fingerprint, f.Basis = hostileCodes[0], hostileCodes[1], hostileCodes[2], hostileCodes[0]
	return f
}

// tinyStory is one case and nothing that can be told.
func tinyStory() *review.Findings {
	return &review.Findings{Version: "0.1.0", Fingerprint: "00", Coverage: review.Coverage{FirstPeriod: "2024", LastPeriod: "2024", Cases: 1, Patients: 1, Sites: 1, Clinicians: 1, Delivered: 1, MedianFollowUp: review.Num(math.NaN())},
		Headlines: []review.Headline{{Outcome: review.Adjustments, Overall: fewer(1)}},
		Groups:    []review.Group{{Outcome: review.Adjustments, Dimension: "arch", Values: []review.GroupValue{{Code: "upper", Estimate: fewer(1)}}}}}
}

// pages names every canned page.
func pages() map[string]func(io.Writer) error {
	return map[string]func(io.Writer) error{
		"pack":          func(w io.Writer) error { return Pack(w, story(), storyOptions()) },
		"hostile":       func(w io.Writer) error { return Pack(w, hostileStory(), Options{}) },
		"tiny":          func(w io.Writer) error { return Pack(w, tinyStory(), Options{}) },
		"shared":        func(w io.Writer) error { return Shared(w, storyShared(), storyOptions()) },
		"summary":       func(w io.Writer) error { return Summary(w, storySummary(), storyOptions()) },
		"audit":         func(w io.Writer) error { return Audit(w, storyAudit(), false, storyOptions()) },
		"teach":         func(w io.Writer) error { return Audit(w, storyAudit(), true, storyOptions()) },
		"bare":          func(w io.Writer) error { return Audit(w, bareAudit(), false, Options{}) },
		"hostile-audit": func(w io.Writer) error { return Audit(w, hostileAudit(), false, Options{}) },
		"formulas": func(w io.Writer) error {
			var list []IndexEntry
			for _, code := range []string{"=1+1", "+cmd|' /C calc'!A0", "@SUM(A1)", "-1+cmd", "\u22125", "a\tb", "\u2068RTL\u2069"} {
				list = append(list, IndexEntry{Code: code})
			}
			return SummaryIndex(w, list, About{}, Options{})
		},
		"index": func(w io.Writer) error {
			return SummaryIndex(w, []IndexEntry{{"C05", SummaryFile("C05", "00"), 288, 520}, {hostileCodes[0], SummaryFile(hostileCodes[0], "00"), 1, 2}}, About{Version: "0.1.0", Invented: true}, Options{})
		},
	}
}
