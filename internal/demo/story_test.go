package demo

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// life is one delivered denture as the slow reader sees it, exposures beside events.
type life struct {
	arch             string
	c, rec, tray     row
	denture          row
	followed         int // days from delivery to the end of observation
	visits           int // adjustment visits within 90 days
	weeks            [3]bool
	spots, vertical  int // within 30 and 180 days
	display, remakes int // within 180 and 365 days
	ulcer            bool
}

// lives counts each delivered denture's events, straight from the written files.
func lives(t *testing.T) []*life {
	t.Helper()
	tables := read(t, written(t))
	cases, records, trays, byKey := map[string]row{}, map[string]row{}, map[string]row{}, map[string]*life{}
	for _, r := range tables["cases"] {
		cases[r["case_id"]] = r
	}
	for _, r := range tables["records"] {
		records[r["case_id"]] = r
	}
	for _, r := range tables["trays"] {
		trays[r["case_id"]+r["arch"]] = r
	}
	var all []*life
	start := map[string]int{}
	for _, r := range tables["dentures"] {
		key, day := r["case_id"]+r["arch"], r.day(t, "delivered_day")
		if day < 0 {
			continue
		}
		c := cases[r["case_id"]]
		byKey[key] = &life{arch: r["arch"], denture: r, c: c, rec: records[r["case_id"]], tray: trays[key], followed: c.day(t, "observed_to_day") - day}
		start[key], all = day, append(all, byKey[key])
	}
	visits := map[string]row{}
	for _, r := range tables["visits"] {
		visits[r["visit_id"]] = r
		for _, arch := range []string{"upper", "lower"} {
			key := r["case_id"] + arch
			if l := byKey[key]; l != nil && (r["arch"] == arch || r["arch"] == "both") {
				l.came(r, r.day(t, "day")-start[key])
			}
		}
	}
	for _, r := range tables["sore_spots"] {
		v := visits[r["visit_id"]]
		key := v["case_id"] + r["arch"]
		if l := byKey[key]; v.day(t, "day")-start[key] <= 30 {
			l.spots++
			l.ulcer = l.ulcer || r["grade"] == "3"
		}
	}
	for _, r := range tables["remakes"] {
		key := r["case_id"] + r["arch"]
		if r["scope"] == "remake" && r.day(t, "day")-start[key] <= 365 {
			byKey[key].remakes++
		}
	}
	return all
}

// came counts one visit on a day after delivery.
func (l *life) came(r row, day int) {
	talk := strings.Split(r["complaints"], "|")
	if day <= 180 {
		if slices.Contains(talk, "too_tall") || slices.Contains(talk, "too_short") {
			l.vertical++
		}
		if slices.Contains(talk, "shows_too_much") || slices.Contains(talk, "shows_too_little") {
			l.display++
		}
	}
	if r["adjusted"] != "yes" || day > 90 {
		return
	}
	l.visits++
	if day >= 1 && day <= 21 {
		l.weeks[(day-1)/7] = true
	}
}

// among keeps the dentures that were followed for so many days.
func among(all []*life, days int, keep func(*life) bool) []*life {
	var kept []*life
	for _, l := range all {
		if l.followed >= days && keep(l) {
			kept = append(kept, l)
		}
	}
	return kept
}

// mean is the mean of a count; it refuses an empty group.
func mean(t *testing.T, group []*life, count func(*life) int) float64 {
	t.Helper()
	require.NotEmpty(t, group)
	sum := 0
	for _, l := range group {
		sum += count(l)
	}
	return float64(sum) / float64(len(group))
}

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}

func anybody(*life) bool   { return true }
func visitsOf(l *life) int { return l.visits }
func inArch(arch string) func(*life) bool {
	return func(l *life) bool { return l.arch == arch }
}

// band asserts lo <= x <= hi; NaN fails.
func band(t *testing.T, what string, x, lo, hi float64) {
	t.Helper()
	t.Logf("%s: %.3f", what, x)
	assert.True(t, x >= lo && x <= hi, "%s is %.3f, not in %g to %g", what, x, lo, hi)
}

// TestRatesLieNearPublishedOnes: weeks 1 to 3 and the order of the arches from
// Kivovics 2007 (Int J Prosthodont 20:397-401, abstract: 87, 50, 7 %); ulcers within
// a month 12 % of patients in a series of 150 (abstract); remakes 3 to 10 % a year is
// a planning figure, common practice without a source; the variance of 1.9 to 2.5
// times the mean was met in data of this kind, no publication.
func TestRatesLieNearPublishedOnes(t *testing.T) {
	all := lives(t)
	month := among(all, 30, anybody)
	for week, want := range []float64{0.87, 0.50, 0.07} {
		band(t, "share adjusted in week "+string(rune('1'+week)), mean(t, month, func(l *life) int { return one(l.weeks[week]) }), want-0.04, want+0.04)
	}
	quarter := among(all, 90, anybody)
	band(t, "visits a denture in 90 days", mean(t, quarter, visitsOf), 1.4, 1.95)
	upper, lower := mean(t, among(all, 90, inArch("upper")), visitsOf), mean(t, among(all, 90, inArch("lower")), visitsOf)
	band(t, "lower against upper", lower/upper, 1.1, 1.5)
	band(t, "remakes in a year", mean(t, among(all, 365, anybody), func(l *life) int { return l.remakes }), 0.025, 0.055)
	perCase, perPatient := map[string]bool{}, map[string]int{}
	for _, l := range month {
		perCase[l.c["case_id"]] = perCase[l.c["case_id"]] || l.ulcer
	}
	for _, l := range quarter {
		perPatient[l.c["patient_key"]] += l.visits
	}
	ulcers, n, sum, squares := 0, 0.0, 0.0, 0.0
	for _, l := range month {
		if id := l.c["case_id"]; perCase[id] {
			ulcers++
			perCase[id] = false
		}
	}
	band(t, "cases with an ulcer within a month", float64(ulcers)/float64(len(perCase)), 0.09, 0.15)
	for _, l := range quarter {
		if v, ok := perPatient[l.c["patient_key"]]; ok {
			n, sum, squares = n+1, sum+float64(v), squares+float64(v*v)
			delete(perPatient, l.c["patient_key"])
		}
	}
	m := sum / n
	band(t, "variance over mean of a patient's visits", (squares/n-m*m)/m, 1.6, 2.6)
}

// TestZonesLieNearPublishedOnes: shares by zone from Kivovics 2007 (abstract).
func TestZonesLieNearPublishedOnes(t *testing.T) {
	share, total := map[string]float64{}, map[string]float64{}
	for _, r := range read(t, written(t))["sore_spots"] {
		share[r["arch"]+" "+r["zone"]]++
		total[r["arch"]]++
	}
	for _, c := range []struct {
		arch  string
		zones []string
		want  float64
	}{{"upper", []string{"labial_sulcus", "buccal_sulcus"}, 0.41}, {"upper", []string{"tuberosity"}, 0.21}, {"upper", []string{"hamular_notch"}, 0.12},
		{"lower", []string{"retromylohyoid"}, 0.17}, {"lower", []string{"lingual_sulcus"}, 0.14}, {"lower", []string{"labial_sulcus", "buccal_sulcus"}, 0.13}} {
		got := 0.0
		for _, z := range c.zones {
			got += share[c.arch+" "+z] / total[c.arch]
		}
		band(t, c.arch+" "+c.zones[0], got, c.want-0.03, c.want+0.03)
	}
}

// with splits dentures by an exposure of which neither answer may be missing: 1 yes,
// 0 no, -1 not recorded.
func with(all []*life, days int, exposure func(*life) int) (yes, no []*life) {
	return among(all, days, func(l *life) bool { return exposure(l) == 1 }), among(all, days, func(l *life) bool { return exposure(l) == 0 })
}

// says gives 1 for the code, 0 for another one, -1 for an empty cell.
func says(v, code string) int {
	if v == "" || v == "unknown" {
		return -1
	}
	return one(v == code)
}

func oversized(t *testing.T) func(*life) int {
	return func(l *life) int {
		x, ok := l.tray.mm(t, "clearance_max_mm")
		if !ok {
			return -1
		}
		return one(x > 2)
	}
}

func copied(l *life) int {
	if l.rec["vertical_basis"] == "" || l.c["prior_denture"] == "" {
		return -1
	}
	return one(l.rec["vertical_basis"] == "existing_denture" && l.c["prior_denture"] == "unsound")
}

func farDisplay(t *testing.T) func(*life) int {
	return func(l *life) int {
		lip, a := l.rec.mm(t, "lip_mm")
		target, b := l.rec.mm(t, "display_target_mm")
		if !a || !b || l.arch != "upper" {
			return -1
		}
		miss := target - displayFor(lip)
		return one(miss >= displayFarFrom || miss <= -displayFarFrom)
	}
}

// TestPlantedEffectsAreThere counts crudely, without any adjustment, from the written
// files. The bands leave about two standard errors round the planted ratio and room
// for the case mix that a crude ratio carries.
func TestPlantedEffectsAreThere(t *testing.T) {
	all := lives(t)
	ratio := func(days int, exposure, count func(*life) int) float64 {
		yes, no := with(all, days, exposure)
		return mean(t, yes, count) / mean(t, no, count)
	}
	spots := func(l *life) int { return l.spots }
	class4 := func(l *life) int { return says(l.c["ridge_class"], "4") }
	for _, c := range []struct {
		what            string
		days            int
		exposure, count func(*life) int
		lo, hi          float64
	}{
		{"clearance over 2, visits", 90, oversized(t), visitsOf, 1.25, 1.50},
		{"copied vertical, visits", 90, copied, visitsOf, 1.15, 1.55},
		{"copied vertical, vertical complaints", 180, copied, func(l *life) int { return l.vertical }, 3, 8},
		{"copied vertical, remakes", 365, copied, func(l *life) int { return l.remakes }, 2, 4.5},
		{"partial seating, sore spots", 30, func(l *life) int { return says(l.tray["seating"], "partial") }, spots, 1.3, 1.7},
		{"far display, display complaints", 180, farDisplay(t), func(l *life) int { return l.display }, 1.5, 4.5},
		{"ridge class IV, visits", 90, class4, visitsOf, 1.15, 1.45},
	} {
		band(t, c.what, ratio(c.days, c.exposure, c.count), c.lo, c.hi)
	}
}

// TestNullHabitsDoNothing compares the visits of dentures with a habit with what
// dentures without it had at the same clinician in the same period, since carriers
// differ in their patients and in their other habits.
func TestNullHabitsDoNothing(t *testing.T) {
	all := among(lives(t), 90, anybody)
	stratum := func(l *life) string {
		return l.c["clinician"] + l.arch + map[bool]string{true: " early"}[l.c["records_on"] < "2023-07"]
	}
	for _, c := range []struct {
		what     string
		exposure func(*life) int
	}{{"one_centric_take", func(l *life) int { return says(l.rec["centric_takes"], "1") }}, {"first_tray_used", func(l *life) int { return says(l.tray["tries"], "1") }},
		{"no_remount", func(l *life) int { return says(l.denture["remount"], "no") }}, {"sized_by_eye", func(l *life) int { return says(l.tray["sized_by"], "eye") }}} {
		yes, no := with(all, 90, c.exposure)
		n, visits := map[string]float64{}, map[string]float64{}
		for _, l := range no {
			n[stratum(l)]++
			visits[stratum(l)] += float64(l.visits)
		}
		observed, expected := 0.0, 0.0
		for _, l := range yes {
			if n[stratum(l)] > 0 {
				observed += float64(l.visits)
				expected += visits[stratum(l)] / n[stratum(l)]
			}
		}
		band(t, c.what+", visits against expected", observed/expected, 0.91, 1.09)
	}
}

// TestHabitsSitWhereTheStorySays compares the named carriers' share with everybody
// else's, and the retrained site before and after.
func TestHabitsSitWhereTheStorySays(t *testing.T) {
	all := lives(t)
	share := func(keep func(*life) bool, exposure func(*life) int) float64 {
		yes, no := with(among(all, 0, keep), 0, exposure)
		return float64(len(yes)) / float64(len(yes)+len(no))
	}
	big := oversized(t)
	band(t, "H2 before", share(func(l *life) bool { return l.c["site"] == "H2" && l.c["records_on"] < "2023-07" }, big), 0.65, 0.75)
	band(t, "H2 after", share(func(l *life) bool { return l.c["site"] == "H2" && l.c["records_on"] >= "2023-07" }, big), 0.04, 0.10)
	eye := func(l *life) int { return says(l.tray["sized_by"], "eye") }
	rounded := func(l *life) int {
		x, ok := l.rec.mm(t, "vdo_mm")
		if !ok {
			return -1
		}
		return one(int(x*10)%50 == 0)
	}
	unsound := func(l *life) int {
		if l.c["prior_denture"] != "unsound" {
			return -1
		}
		return copied(l)
	}
	for _, c := range []struct {
		id       string
		exposure func(*life) int
		gap      float64
	}{{"copied_vertical", unsound, 0.4}, {"partial_seating", func(l *life) int { return says(l.tray["seating"], "partial") }, 0.25},
		{"rounded_verticals", rounded, 0.8}, {"one_take", func(l *life) int { return says(l.rec["centric_takes"], "1") }, 0.45},
		{"first_tray", func(l *life) int { return says(l.tray["tries"], "1") }, 0.4}, {"by_eye", eye, 0.5}, {"default_display", farDisplay(t), 0.3}} {
		p := planted(t, c.id)
		theirs := share(func(l *life) bool { return slices.Contains(p.Who, l.c["clinician"]) }, c.exposure)
		others := share(func(l *life) bool { return !slices.Contains(p.Who, l.c["clinician"]) }, c.exposure)
		band(t, c.id+", carriers less others", theirs-others, c.gap, 1)
	}
}

func planted(t *testing.T, id string) Planted {
	t.Helper()
	i := slices.IndexFunc(Story, func(p Planted) bool { return p.ID == id })
	require.GreaterOrEqual(t, i, 0, id)
	return Story[i]
}

// TestStoryNamesWhoExists holds the story to the staff and its ratios to their kind.
func TestStoryNamesWhoExists(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range Story {
		assert.False(t, seen[p.ID], p.ID)
		seen[p.ID] = true
		assert.NotEmpty(t, p.Sentence, p.ID)
		assert.Equal(t, p.Outcome == OutcomeNothing, p.Ratio == 1, p.ID)
		for _, who := range p.Who {
			known := slices.ContainsFunc(clinicians, func(c clinician) bool { return c.code == who || c.site == who })
			assert.True(t, known, "%s: %s", p.ID, who)
			assert.Contains(t, p.Sentence, who, p.ID)
		}
	}
}

// TestSomeLesionsWaitForAReview counts places that are sore at two visits more than
// 14 and at most 35 days apart, not merely reddened at the second, without a review
// written down at either: chance alone gives about half of them, the planted ones the rest.
func TestSomeLesionsWaitForAReview(t *testing.T) {
	tables, first, waiting := read(t, written(t)), map[string]int{}, map[string]bool{}
	visits := map[string]row{}
	for _, r := range tables["visits"] {
		visits[r["visit_id"]] = r
	}
	for _, r := range tables["sore_spots"] {
		v := visits[r["visit_id"]]
		if v["lesion_review"] == "yes" || r["side"] == "" {
			continue
		}
		place := v["case_id"] + r["arch"] + r["zone"] + r["side"]
		if day, ok := first[place]; !ok {
			first[place] = v.day(t, "day")
		} else if gap := v.day(t, "day") - day; gap > 14 && gap <= 35 && r["grade"] != "1" {
			waiting[v["case_id"]] = true
		}
	}
	band(t, "share of cases with a place to check", float64(len(waiting))/float64(len(tables["cases"])), 0.015, 0.04)
}
