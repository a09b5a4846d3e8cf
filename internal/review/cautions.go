package review

import (
	"fmt"

	"afterfit/internal/stats"
)

// cautions are the sentences that an interval or a fit brings along, for the Warnings of
// an Estimate; nil where there is nothing to say. That columns were dropped as
// combinations of others is no caution about what is left.
func cautions(warnings []stats.Warning) []string {
	var out []string
	for _, w := range warnings {
		if w.Code != "aliased" {
			out = append(out, w.Text)
		}
	}
	return out
}

// fewPatients is the caution of robust limits that rest on fewer than 30 patients.
func fewPatients(patients int64) []string {
	if patients >= fewestPatients {
		return nil
	}
	return []string{fmt.Sprintf("Only %d patients: limits that allow for patients with several dentures may be too narrow below %d.", patients, fewestPatients)}
}

// fewestPatients is below what limits robust for patients are said to rest on few.
const fewestPatients = 30
