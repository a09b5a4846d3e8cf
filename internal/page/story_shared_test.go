package page

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"afterfit/internal/review"
)

// storyShared is a canned share form with hidden figures in it.
func storyShared() *review.Shared {
	fig := func(v, low, high float64, n int64, unit string) *review.SharedFigure {
		return &review.SharedFigure{Value: review.Num(v), Low: review.Num(low), High: review.Num(high), Level: 0.95, N: n, Unit: unit, Method: "invented", Query: "denture_visits"}
	}
	per, places := "per 100 dentures", int64(120)
	group := func(dimension string, codes ...string) review.SharedGroup {
		g := review.SharedGroup{Outcome: review.Adjustments, Dimension: dimension}
		for i, c := range codes {
			g.Values = append(g.Values, review.SharedValue{Outcome: review.Adjustments, Code: c, Figure: fig(float64(120+10*i), float64(100+10*i), float64(150+10*i), 400, per)})
		}
		g.Values[0].Figure, g.Values[1].Figure = nil, nil
		return g
	}
	return &review.Shared{
		Kind: review.SharedKind, Schema: review.SharedSchema, Version: "0.1.0", Basis: "limited_data_set", Invented: true, AsOf: "2026-06-01",
		Coverage: review.SharedCoverage{FirstYear: "2023", LastYear: "2025", Patients: 1240, Delivered: 2310, Sites: 4, Clinicians: 12, MedianFollowUp: 400, Attended: fig(62.5, 60, 65, 2310, "% of dentures"), SorePlaces: &places},
		Overall:  []review.SharedValue{{Outcome: review.Adjustments, Code: "all", Figure: fig(148, 140, 156, 2310, per)}, {Outcome: review.Ulcer, Code: "all", Figure: fig(12, 10, 14, 2310, "%")}, {Outcome: review.Remake, Code: "all"}},
		Groups: []review.SharedGroup{group("year", "2023", "2024", "2025", "2026"), group("site", "site 1", "site 2", "site 3", "site 4"), group("clearance", "within", "tight", "bulky", "not_recorded"),
			group("zone:upper", "tuberosity", "labial_sulcus", "palate_midline", "torus")},
		Findings: []review.SharedFinding{{ID: "x", Habit: "clearance_over_2", Outcome: review.Adjustments, Days: 90, Direction: "more", Stated: true, Grade: review.Clear, Ratio: *fig(1.3, 1.1, 1.6, 500, "times")},
			{ID: "y", Habit: "first_tray_used", Outcome: review.Adjustments, Days: 90, Direction: "either", Grade: review.NoSign, Ratio: *fig(0.99, 0.8, 1.2, 500, "times")}},
		Hidden:  []review.SharedHidden{{Outcome: review.Adjustments, Dimension: "site", Figures: 2, Of: 4}},
		LeftOut: []review.SharedLeftOut{{What: "table remake site", Why: "too little would be left beside what has to be hidden"}, {What: "lists of cases", Why: "each line is one person"}},
	}
}

// TestSharePageSaysWhatItIs: on its face, with the rule and what is hidden, and with no
// trace of what the share form has no place for.
func TestSharePageSaysWhatItIs(t *testing.T) {
	page := ours(rendered(t, "shared"))
	for _, want := range []string{"Share form of a quality review, for outside the building", "figures of 1 to 10 people are hidden", "Centers for Medicare &amp; Medicaid Services", "Local rules come first",
		"Remade within a year by site", "2 figures in 1 table are hidden", "about 1,240 patients and 2,310 dentures", "1.30 times as often", "<td>hidden", "This data is invented", "at least 500 dentures"} {
		assert.Contains(t, page, want)
	}
	assert.NotContains(t, page, "fingerprint</dt>")
	assert.NotContains(t, page, ">0 to 0<")
}
