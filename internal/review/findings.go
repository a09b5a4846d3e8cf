// Package review asks the questions of a meeting: it runs the queries, calls the
// statistics and returns findings. Findings are plain data: everything that a page
// or a terminal shows is a field here, and --json prints the same.
package review

import (
	"encoding/json"
	"math"
	"strconv"
)

// SchemaVersion is the version of the findings' JSON form. It rises whenever a
// field changes its meaning or goes away.
const SchemaVersion = 2

// Num is a computed number. It is written to JSON rounded to nine significant
// digits, so that the last bits of a sum never show, and as null where there is
// no number (NaN or infinite).
type Num float64

// MarshalJSON writes the rounded number or null.
func (n Num) MarshalJSON() ([]byte, error) {
	if !n.Known() {
		return []byte("null"), nil
	}
	v, err := strconv.ParseFloat(strconv.FormatFloat(float64(n), 'g', 9, 64), 64)
	if err != nil {
		return nil, err
	}
	return json.Marshal(v)
}

// UnmarshalJSON reads what MarshalJSON wrote; null becomes NaN.
func (n *Num) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = Num(math.NaN())
		return nil
	}
	v, err := strconv.ParseFloat(string(b), 64)
	*n = Num(v)
	return err
}

// Known reports whether there is a finite number.
func (n Num) Known() bool { return !math.IsNaN(float64(n)) && !math.IsInf(float64(n), 0) }

// Estimate is a figure with everything it needs to be believed. Value, Low and
// High are in Unit; N is the number of dentures (or cases, where Unit says so)
// behind it and Events the number of outcomes. Query names the file in queries/
// that counted it. TooFew, when set, is a sentence to show instead of the figure.
type Estimate struct {
	Value  Num     `json:"value"`
	Low    Num     `json:"low"`
	High   Num     `json:"high"`
	Level  float64 `json:"level"` // in (0,1), e.g. 0.95
	N      int64   `json:"n"`
	Events int64   `json:"events"`
	Days   int64   `json:"days_at_risk"` // denture-days; 0 where time plays no part
	Unit   string  `json:"unit"`
	Method string  `json:"method"`
	Query  string  `json:"query"`
	TooFew string  `json:"too_few,omitempty"`
	// Warnings are cautions about Low and High, in sentences: pages mark the interval.
	Warnings []string `json:"warnings,omitempty"`
}

// Outcome names, as in the linked table and in every finding.
const (
	Adjustments = "adjustment_visits" // visits with an adjustment, days 0-90, per 100 dentures
	SoreSpots   = "early_sore_spots"  // sore spots, days 0-30, per 100 dentures
	Ulcer       = "any_ulcer"         // % of dentures with a grade 3 spot, days 0-30
	Remake      = "remake"            // % remade within 365 days, death competing
	Reline      = "reline"            // % relined or rebased within 365 days, death competing
	Display     = "display_complaint" // %, days 0-180
	Vertical    = "vertical_complaint"
	Minutes     = "chair_minutes" // minutes on adjustment visits per denture, days 0-90
)

// Findings is everything that one review found in one store.
type Findings struct {
	Schema       int            `json:"schema"`
	Version      string         `json:"version"`
	Fingerprint  string         `json:"fingerprint"` // of the store's content
	Basis        string         `json:"basis"`       // privacy basis that the bundles state
	Invented     bool           `json:"invented"`    // every loaded bundle says that its data is invented
	AsOf         string         `json:"as_of"`       // the date given by flag, "" if none
	Coverage     Coverage       `json:"coverage"`
	Headlines    []Headline     `json:"headlines"`
	Curves       []Curve        `json:"curves"`
	Groups       []Group        `json:"groups"`
	Bands        []BandTable    `json:"bands"`
	Habits       []HabitTable   `json:"habits"`
	Same         []SameValue    `json:"same_values"`
	Strongest    []Pair         `json:"strongest"` // at most three, surest first
	Pairs        []Pair         `json:"pairs"`     // every hypothesis about a habit, in the catalogue's order
	Doses        []Dose         `json:"doses"`     // every hypothesis about a measured quantity, likewise
	Zones        []ZoneCount    `json:"zones"`
	ZonesByHabit []ZoneContrast `json:"zones_by_habit"` // for the habits of Strongest
	Fields       []FieldShare   `json:"fields"`
	Open         []OpenCase     `json:"open_cases"`
	Lesions      []Lesion       `json:"lesions"`
	Mix          []MixFit       `json:"case_mix"`
	Units        []UnitTable    `json:"units"`
	Times        []TimeChart    `json:"over_time"`
	HabitTimes   []TimeChart    `json:"habits_over_time"` // shares in %; by site for habits that a change was to move
	Cusums       []CusumChart   `json:"cusum"`
	Changes      []ChangeResult `json:"changes"`
	Know         []Know         `json:"how_long"`
	Since        *Since         `json:"since,omitempty"`
	Notes        []string       `json:"notes"` // data notes in sentences
}

// Coverage says what the figures stand on.
type Coverage struct {
	FirstPeriod    string   `json:"first_period"` // of records, as recorded
	LastPeriod     string   `json:"last_period"`
	Cases          int64    `json:"cases"`
	Patients       int64    `json:"patients"`
	Sites          int64    `json:"sites"`
	Clinicians     int64    `json:"clinicians"`
	Delivered      int64    `json:"dentures_delivered"`
	Undelivered    int64    `json:"dentures_undelivered"`
	MedianFollowUp Num      `json:"median_follow_up_days"`
	FullYear       Estimate `json:"followed_full_year"` // % of dentures
	Attended       Estimate `json:"attended_planned"`   // % of dentures with a planned visit in 90 days
	NoArchVisits   int64    `json:"visits_without_arch"`
	BeforeDelivery int64    `json:"visits_before_delivery"`
	SetAside       int64    `json:"rows_set_aside"`
}

// Headline is one of the leading figures with its trend by quarter of records.
type Headline struct {
	Outcome string       `json:"outcome"`
	Overall Estimate     `json:"overall"`
	Trend   []GroupValue `json:"trend"`
}

// Group is one outcome by the values of one dimension.
type Group struct {
	Outcome   string       `json:"outcome"`
	Dimension string       `json:"dimension"` // arch, site, clinician, ridge_class, quarter
	Values    []GroupValue `json:"values"`
}

// GroupValue is one value of a dimension with its estimate. Shrunk is the same
// figure drawn towards that of all, the more so the fewer stand behind it; only
// clinicians' habit shares have it, and only where clinicians can be compared.
type GroupValue struct {
	Code     string    `json:"code"`
	Estimate Estimate  `json:"estimate"`
	Shrunk   *Estimate `json:"shrunk,omitempty"`
}

// Curve is a step function of days since delivery. Y is a share in [0,1].
type Curve struct {
	Outcome string  `json:"outcome"` // first_adjustment (share not yet adjusted) or remake (share remade)
	Group   string  `json:"group"`   // "all", "upper" or "lower"
	Method  string  `json:"method"`
	Query   string  `json:"query"`
	N       int64   `json:"n"`
	Points  []Point `json:"points"`
}

// Point is a step of a curve with its limits and the number at risk just before.
type Point struct {
	Day    int64 `json:"day"`
	Y      Num   `json:"y"`
	Low    Num   `json:"low"`
	High   Num   `json:"high"`
	AtRisk int64 `json:"at_risk"`
}

// BandTable is one outcome by the bands of one recorded value. Not recorded is a
// band of its own and comes last. The figures are unadjusted.
type BandTable struct {
	Exposure string       `json:"exposure"` // freeway, clearance, seating, discomfort, display
	Outcome  string       `json:"outcome"`
	Values   []GroupValue `json:"values"`
}

// HabitTable is the share of cases (or dentures) with one record-taking habit:
// for all together and for each clinician. Shares are in %.
type HabitTable struct {
	Habit      string       `json:"habit"` // id in the habit catalogue
	All        Estimate     `json:"all"`
	Clinicians []GroupValue `json:"clinicians"`
	Missing    int64        `json:"not_assessable"`
}

// Association is the difference in one outcome between dentures with a habit and
// those without, both assessable. It is association, never cause.
type Association struct {
	Habit      string   `json:"habit"`
	Outcome    string   `json:"outcome"`
	With       Estimate `json:"with"`
	Without    Estimate `json:"without"`
	Difference Estimate `json:"difference"` // in the outcome's unit, with minus without
}

// ZoneCount is the number of sore spots at one place within 30 days of delivery.
type ZoneCount struct {
	Arch     string   `json:"arch"`
	Zone     string   `json:"zone"`
	Side     string   `json:"side"` // the patient's own: left, right, middle, "" not recorded
	Estimate Estimate `json:"estimate"`
}

// FieldShare is the share of rows (%) in which a field of the contract is recorded.
type FieldShare struct {
	Table    string   `json:"table"`
	Column   string   `json:"column"`
	Recorded Estimate `json:"recorded"`
}

// OpenCase is a case worth opening in the meeting, with the rules that picked it.
type OpenCase struct {
	CaseID    string   `json:"case_id"`
	Site      string   `json:"site"`
	Clinician string   `json:"clinician"`
	Reasons   []string `json:"reasons"` // rule ids
	Facts     []string `json:"facts"`   // a short phrase for each reason, same order
}

// Lesion is a place that was sore at visits some days apart without a recorded
// review after the first. Level is "look" (14 days) or "check" (21 days).
type Lesion struct {
	CaseID    string `json:"case_id"`
	Clinician string `json:"clinician"`
	Arch      string `json:"arch"`
	Zone      string `json:"zone"`
	Side      string `json:"side"`
	FirstDay  int64  `json:"first_day"` // days from records
	LastDay   int64  `json:"last_day"`
	Level     string `json:"level"`
}
