package privacy

import (
	"fmt"
	"slices"
	"strings"
)

// Clearance is a person's word that a finding is none, from the export's note. It
// holds for one kind in one column and is recorded with the load.
type Clearance struct {
	Table  string `toml:"table" json:"table"`
	Column string `toml:"column" json:"column"`
	Kind   Kind   `toml:"kind" json:"kind"`
	Reason string `toml:"reason" json:"reason"`
}

// Validate reports what is missing from a clearance.
func (c Clearance) Validate() error {
	switch {
	case c.Table == "" || c.Column == "":
		return fmt.Errorf("a clearance without table or column")
	case !slices.Contains(Kinds(), c.Kind):
		return fmt.Errorf("a clearance for the unknown kind %q", string(c.Kind))
	case strings.TrimSpace(c.Reason) == "":
		return fmt.Errorf("a clearance of %s.%s without a reason", c.Table, c.Column)
	}
	return nil
}

// Clear takes the cleared findings out. Used lists the clearances that took one
// out, in the order of the note.
func Clear(findings []Finding, cleared []Clearance) (left []Finding, used []Clearance) {
	hit := make([]bool, len(cleared))
	for _, f := range findings {
		i := slices.IndexFunc(cleared, func(c Clearance) bool {
			return c.Table == f.Table && c.Column == f.Column && c.Kind == f.Kind
		})
		if i < 0 {
			left = append(left, f)
		} else {
			hit[i] = true
		}
	}
	for i, c := range cleared {
		if hit[i] {
			used = append(used, c)
		}
	}
	return left, used
}
