package page

import (
	"fmt"
	"math"

	"afterfit/internal/review"
)

// The canned part that is judged against case mix. Figures are made up.

func ratioOf(value, half float64, n, events int64) review.Estimate {
	e := est(value, value-half, value+half, n, events, "times expected")
	e.Method = "exact limits"
	return e
}

func storyChecks(odd bool) review.DataChecks {
	c := func(v, all float64, odd bool) review.Check {
		return review.Check{Own: share(v, 300), All: review.Num(all), Odd: odd}
	}
	return review.DataChecks{Complete: c(92, 91, false), Followed: c(99, 98, false), Attended: c(81, 80, false), Twice: c(4, 3, false), OnFive: c(60, 19, odd)}
}

func storyUnits(f *review.Findings) {
	for _, outcome := range []string{review.Adjustments, review.SoreSpots, review.Remake} {
		for _, dimension := range []string{"site", "clinician", "lab"} {
			t := review.UnitTable{Outcome: outcome, Dimension: dimension, Dispersion: 2.1, Spread: 1.4, TrueSpread: 0.1}
			codes := map[string][]string{"site": {"NORTH", "RIVER", "HILL"}, "clinician": {"C01", "C02", "C03", "C04", "C05"}, "lab": {"L1", "not_recorded"}}[dimension]
			for i, code := range codes {
				u := review.UnitRatio{Code: code, Expected: review.Num(200 + 90*i), Ratio: ratioOf(1.3-0.1*float64(i), 0.1, 300, 260), Shrunk: ratioOf(1.2-0.08*float64(i), 0.08, 300, 260), Checks: storyChecks(i == 0)}
				u.Flag = map[int]int{0: 2, 4: -1}[i]
				u.Know = &review.Know{Outcome: outcome, Code: code, Ratio: 1.25, Need: 400, Have: 300, Pace: 10, Months: 10}
				if i == 3 {
					u.Ratio.TooFew, u.Know.Months = "Too few to tell: 2.1 events expected.", 0
				}
				t.Units = append(t.Units, u)
			}
			for e := 100.0; e < 800; e += 50 {
				w := 1 / math.Sqrt(e/2.1)
				t.Curve = append(t.Curve, review.FunnelCurve{Expected: review.Num(e), NearLow: review.Num(1 - 2*w), NearHigh: review.Num(1 + 2*w), FarLow: review.Num(1 - 3*w), FarHigh: review.Num(1 + 3*w)})
			}
			f.Units = append(f.Units, t)
		}
		f.Know = append(f.Know, review.Know{Outcome: outcome, Ratio: 1.25, Need: 400, Pace: 200, Months: 2})
	}
	storyTimes(f)
	storyMix(f)
	storyChange(f)
	f.Since = &review.Since{Fingerprint: "0123456789abcdef", AsOf: "2024-10-31", LastPeriod: "2024-09", Rule: "A figure has moved when the rule says so.", NewCases: 120, NewDentures: 210,
		Figures:  []review.Moved{{ID: review.Adjustments, Outcome: review.Adjustments, Then: rate(131, 6000), Now: rate(148, 7240), Kind: "moved"}},
		Findings: []review.Moved{{ID: "clearance_over_2", Outcome: review.Adjustments, Then: review.Estimate{Value: review.Num(math.NaN())}, Now: ratioOf(1.4, 0.1, 900, 700), Kind: "appeared"}},
		Units:    []review.Moved{{ID: "clinician:C01", Outcome: review.Adjustments, Then: ratioOf(1.1, 0.1, 200, 180), Now: ratioOf(1.3, 0.1, 300, 260), Kind: "appeared"}},
		Late:     []review.LateData{{Outcome: review.Adjustments, Dentures: 4, Events: 31, Then: 9000}}}
}

func storyCourse(outcome, dimension, code string, phase float64) review.TimeChart {
	t := review.TimeChart{Outcome: outcome, Dimension: dimension, Code: code, Fineness: "month", Center: 148, Median: 147, SigmaZ: 1.2, LongestRun: 9, RunAllowed: 8, Crossings: 9, CrossNeeded: 12, FalseSignal: 0.085}
	for i := range 36 {
		p := review.TimePoint{Period: fmt.Sprintf("%d-%02d", 2022+i/12, i%12+1), N: 200, Observed: 290, Expected: 280, Value: review.Num(148 + 12*math.Sin(phase+float64(i))), Low: 120, High: 176, Due: 1, Immature: i > 33}
		if i == 20 {
			p.Value, p.Beyond = 190, 1
		}
		t.Points = append(t.Points, p)
	}
	t.Broken = []string{"beyond_limits", "shift", "crossings"}
	return t
}

func storyTimes(f *review.Findings) {
	f.Times = append(f.Times, storyCourse(review.Adjustments, "all", "all", 0))
	for i, site := range []string{"NORTH", "RIVER", "HILL"} {
		f.Times = append(f.Times, storyCourse(review.Adjustments, "site", site, float64(i)))
	}
	f.Times[1].Broken = nil
	for i, place := range []string{"all", "RIVER"} {
		c := storyCourse(review.HabitPrefix+"clearance_over_2", []string{"all", "site"}[i], place, float64(i))
		f.HabitTimes = append(f.HabitTimes, c)
	}
	calm := storyCourse(review.HabitPrefix+"freeway_low", "all", "all", 1)
	calm.Broken = nil
	f.HabitTimes = append(f.HabitTimes, calm)
	f.Same = []review.SameValue{{Habit: "same_display", Clinician: "C05", Value: 4, Distinct: 1, Share: share(97, 200), Expected: 45, P: 0, Verdict: review.NearlyAlways},
		{Habit: "same_display", Clinician: "C06", Value: 2.5, Distinct: 9, Share: share(19, 180), Expected: 44, P: 1, Verdict: review.AsExpected},
		{Habit: "same_freeway", Clinician: "C06", Share: fewer(4), Verdict: review.CannotTell}}
	c := review.CusumChart{Outcome: review.Adjustments, Dimension: "clinician", Code: "C01", Ratio: 1.5, Limit: 4, RunLength: 362, Fineness: "month", Signals: []string{"2022-05"}}
	for i := range 36 {
		c.Points = append(c.Points, review.CusumPoint{Period: fmt.Sprintf("%d-%02d", 2022+i/12, i%12+1), Value: review.Num(i % 5), Observed: 4, Expected: 3.4})
	}
	f.Cusums = append(f.Cusums, c, review.CusumChart{Outcome: review.Remake, Dimension: "clinician", Code: "C02", Ratio: 1.5, Fineness: "month", Limit: review.Num(math.NaN()), TooFew: "Too few to watch: 1.2 events expected."})
}

func storyMix(f *review.Findings) {
	m := review.MixFit{Model: review.MixModel{Outcome: review.Adjustments, Days: 90, First: "2022-01", Last: "2024-12", N: 7240, Events: 10700, Shrink: 0.8, Dispersion: 2.1,
		Terms: []review.MixTerm{{Name: "ridge_class", Levels: []review.MixLevel{{Level: "2", As: "2", N: 3000, Events: 4000}, {Level: "4", As: "other", Coef: 0.3, N: 20, Events: 31}}}}},
		Slope: ratioOf(0.8, 0.15, 7240, 10700), Large: ratioOf(1, 0.02, 7240, 10700), Concordance: 0.57, Notes: []string{"ridge_class 4 is too rare."}, Warnings: []string{"The model tells little apart."}}
	for i := range 10 {
		m.Tenths = append(m.Tenths, review.MixTenth{Tenth: i + 1, Expected: review.Num(900 + 50*i), Ratio: ratioOf(0.95+0.01*float64(i), 0.07, 724, 1000)})
	}
	f.Mix = []review.MixFit{m}
}

func storyChange(f *review.Findings) {
	side := func(name string, base float64) review.ChangeSeries {
		return review.ChangeSeries{Side: name, Points: storyCourse(review.Adjustments, "site", name, base).Points}
	}
	e := review.ChangeEstimate{Measure: "habit:clearance_over_2", Places: [2]review.Estimate{share(55, 900), share(7, 900)}, Others: [2]review.Estimate{share(23, 1800), share(23, 1800)}, Ratio: ratioOf(0.13, 0.03, 5400, 900),
		Placebos: []review.Placebo{{From: "2022-10", Ratio: ratioOf(0.95, 0.2, 1200, 400)}}, Series: []review.ChangeSeries{side("places", 0), side("others", 1)}}
	visits := e
	visits.Measure, visits.Places, visits.Others, visits.Ratio = review.Adjustments, [2]review.Estimate{rate(190, 900), rate(180, 900)}, [2]review.Estimate{rate(190, 1800), rate(188, 1800)}, ratioOf(0.95, 0.1, 5400, 9000)
	visits.Warnings = []string{"At 2022-10, when nothing was changed, the same sum shows a step too."}
	few := visits
	few.Measure, few.Ratio.TooFew, few.Series = review.Remake, "Too few to tell: 2 events before.", nil
	f.Changes = []review.ChangeResult{{Change: review.Change{Name: "Course on tray size", What: "clearance_over_2", Where: []string{"RIVER"}, From: "2023-07"}, Controls: []string{"NORTH", "HILL"}, Fineness: "month",
		Estimates: []review.ChangeEstimate{e, visits, few}, Warnings: []string{"Sites changed: 1, others: 2."}}}
}

// storyBeside is a reader's own part: C01 above the limits.
func storyBeside() []review.OwnBeside {
	var f review.Findings
	storyUnits(&f)
	own := review.OwnBeside{Outcome: review.Adjustments, Own: f.Units[1].Units[0], Curve: f.Units[1].Curve, Watch: &f.Cusums[0], Peers: []review.PeerPoint{{Expected: 290, Ratio: 1.2}, {Expected: 380, Ratio: 1.1}}}
	for i, q := range quarters {
		own.Quarters = append(own.Quarters, review.TimePoint{Period: q, Observed: 12, Expected: 10, Value: review.Num(1 + 0.1*float64(i%3)), Immature: i == len(quarters)-1})
	}
	few := review.OwnBeside{Outcome: review.Remake, Own: f.Units[1].Units[3], Curve: f.Units[1].Curve}
	return []review.OwnBeside{own, few}
}
