package review

import (
	"context"
	"strings"
)

// Question is something that can be asked of a store.
type Question struct {
	Name, Text string
	query      string                                         // a statement that answers it as it stands, or
	table      func(*Findings) [][]any                        // a cut from the findings, under these columns, or
	rows       func(*asker, context.Context) ([][]any, error) // its own questions to the store, likewise
	columns    []string
}

// estimateColumns are those of an Estimate.
var estimateColumns = []string{"value", "low", "high", "n", "events", "unit", "too_few", "caution", "level", "query"}

// Questions lists what can be asked, in the order that help shows.
func Questions() []Question {
	return append(besideQuestions(), []Question{
		{Name: "headlines", Text: "the leading figures", table: headlineRows, columns: with("outcome")},
		{Name: "groups", Text: "every outcome by arch, site, clinician, ridge class and quarter", table: groupTable, columns: with("outcome", "dimension", "code")},
		{Name: "bands", Text: "outcomes by band of what was recorded (unadjusted)", table: bandRows, columns: with("outcome", "exposure", "band")},
		{Name: "habits", Text: "how often each clinician shows each habit", table: habitRows, columns: with("habit", "clinician", "shrunken")},
		{Name: "same-values", Text: "the value that each clinician writes most often, beside what chance allows", table: sameRows, columns: with("habit", "clinician", "most_frequent", "distinct_values", "expected", "p", "verdict")},
		{Name: "strongest", Text: "the habits that go most surely with trouble", table: strongestRows, columns: with("habit", "outcome", "grade", "figure")},
		{Name: "pairs", Text: "every habit beside every outcome it was thought to bring: within clinicians, by case mix and crude", table: pairRows, columns: with("hypothesis", "grade", "comparison", "figure")},
		{Name: "doses", Text: "how each outcome grows with what was measured: curves, slopes as read and with reading error taken out", rows: (*asker).doseRows, columns: doseColumns},
		{Name: "hypotheses", Text: "what is looked at and why: the catalogue with its adjustment sets and grades", table: hypothesisRows, columns: hypothesisColumns},
		{Name: "controls", Text: "pairs that should show nothing, as a check for what was not recorded", table: controlRows, columns: with("hypothesis", "comparison", "figure")},
		{Name: "curves", Text: "time to first adjustment and to remake", table: curveRows, columns: []string{"outcome", "group", "day", "share", "low", "high", "at_risk", "n", "unit", "query"}},
		{Name: "zones", Text: "sore spots by zone and side", table: zoneRows, columns: with("arch", "zone", "side")},
		{Name: "zones-by-habit", Text: "sore spots by zone and side with each habit, without it, and the difference (unadjusted)", rows: (*asker).zonesByHabitRows, columns: with("habit", "arch", "zone", "patient_side", "habit_side")},
		{Name: "completeness", Text: "how full each field is", table: fieldRows, columns: with("table", "column")},
		{Name: "open-cases", Text: "cases worth opening, with the reason", table: openRows, columns: []string{"case_id", "site", "clinician", "rules", "facts"}},
		{Name: "lesions", Text: "places that stayed sore without a recorded review", table: lesionRows, columns: []string{"case_id", "clinician", "arch", "zone", "side", "first_day", "last_day", "level"}},
		{Name: "clinicians", Text: "clinician codes with their cases and dentures", query: "ask_clinicians"},
		{Name: "dentures", Text: "everything linked to each delivered denture", query: "ask_dentures"},
		{Name: "set-aside", Text: "rows that were set aside: file, line, column, value, reason", query: "ask_set_aside"},
		{Name: "flags", Text: "values that were kept but are unusual", query: "ask_flags"},
		{Name: "cleared", Text: "findings of the privacy checks that someone cleared, with the reason", query: "ask_cleared"},
		{Name: "balance", Text: "rows read, kept, set aside, repeated and superseded by each load", query: "ask_balance"},
		{Name: "loads", Text: "the loads of this store", query: "ask_loads"},
	}...)
}

func with(columns ...string) []string { return append(columns, estimateColumns...) }

func headlineRows(f *Findings) (rows [][]any) {
	for _, h := range f.Headlines {
		rows = append(rows, []any{h.Outcome, h.Overall})
	}
	return rows
}

func groupTable(f *Findings) (rows [][]any) {
	for _, g := range f.Groups {
		for _, v := range g.Values {
			rows = append(rows, []any{g.Outcome, g.Dimension, v.Code, v.Estimate})
		}
	}
	return rows
}

func bandRows(f *Findings) (rows [][]any) {
	for _, b := range f.Bands {
		for _, v := range b.Values {
			rows = append(rows, []any{b.Outcome, b.Exposure, v.Code, v.Estimate})
		}
	}
	return rows
}

func habitRows(f *Findings) (rows [][]any) {
	for _, h := range f.Habits {
		rows = append(rows, []any{h.Habit, "(all)", "", h.All})
		for _, v := range h.Clinicians {
			var shrunk any = ""
			if v.Shrunk != nil {
				shrunk = v.Shrunk.Value
			}
			rows = append(rows, []any{h.Habit, v.Code, shrunk, v.Estimate})
		}
	}
	return rows
}

func sameRows(f *Findings) (rows [][]any) {
	for _, v := range f.Same {
		rows = append(rows, []any{v.Habit, v.Clinician, v.Value, v.Distinct, v.Expected, v.P, v.Verdict, v.Share})
	}
	return rows
}

func curveRows(f *Findings) (rows [][]any) {
	for _, c := range f.Curves {
		for _, p := range c.Points {
			rows = append(rows, []any{c.Outcome, c.Group, p.Day, p.Y, p.Low, p.High, p.AtRisk, c.N, "share of dentures", c.Query})
		}
	}
	return rows
}

func zoneRows(f *Findings) (rows [][]any) {
	for _, z := range f.Zones {
		rows = append(rows, []any{z.Arch, z.Zone, z.Side, z.Estimate})
	}
	return rows
}

func fieldRows(f *Findings) (rows [][]any) {
	for _, x := range f.Fields {
		rows = append(rows, []any{x.Table, x.Column, x.Recorded})
	}
	return rows
}

func openRows(f *Findings) (rows [][]any) {
	for _, c := range f.Open {
		rows = append(rows, []any{c.CaseID, c.Site, c.Clinician, strings.Join(c.Reasons, "|"), strings.Join(c.Facts, "|")})
	}
	return rows
}

func lesionRows(f *Findings) (rows [][]any) {
	for _, l := range f.Lesions {
		rows = append(rows, []any{l.CaseID, l.Clinician, l.Arch, l.Zone, l.Side, l.FirstDay, l.LastDay, l.Level})
	}
	return rows
}
