package privacy

import "strings"

// Cell is a group of cases that agree on what a neighbour or relative may know:
// age band, sex, site, period and ridge class. "" is not recorded, a value like
// any other.
type Cell struct {
	Age, Sex, Site string
	Period         string // YYYY or YYYY-Qn
	Class          string
	Cases          int64
	Outcome        int64 // cases of the group with a remake, reline or rebase
}

// Risk says how many cases stand out by those five facts alone. Everything counts
// cases, not groups.
type Risk struct {
	Cases       int64        `json:"cases"`
	Unique      int64        `json:"unique"`       // alone in their group (k = 1)
	Below5      int64        `json:"below_5"`      // in groups of fewer than five
	SmallestK   int64        `json:"smallest_k"`   // size of the smallest group; 0 without cases
	K           []KShare     `json:"k"`            // all cases by the size of their group
	SameOutcome int64        `json:"same_outcome"` // in groups of two or more that share one outcome (l = 1)
	WithOutcome bool         `json:"with_outcome"` // the export has outcomes; else SameOutcome means nothing
	Mends       []Coarsening `json:"mends"`        // from the mildest
}

// KShare counts the cases in groups of From to To cases; To 0 is no upper end.
type KShare struct {
	From  int64 `json:"from"`
	To    int64 `json:"to"`
	Cases int64 `json:"cases"`
}

// Coarsening is a way to write the five facts more coarsely, and what is left.
type Coarsening struct {
	What   string `json:"what"`
	Unique int64  `json:"unique"`
	Below5 int64  `json:"below_5"`
}

// step is one way to coarsen a cell.
type step struct {
	what string
	do   func(*Cell)
}

var (
	byYear  = step{"the year in place of the quarter", func(c *Cell) { c.Period, _, _ = strings.Cut(c.Period, "-") }}
	byClass = step{"classes 1-2 and 3-4 together", func(c *Cell) { c.Class = halved(c.Class) }}
	byAge   = step{"three age bands (<60, 60-79, 80+)", func(c *Cell) { c.Age = widened(c.Age) }}
	noSite  = step{"no site", func(c *Cell) { c.Site = "" }}
)

// coarsenings are tried in this order, from the mildest. House rule, no source.
var coarsenings = [][]step{{byYear}, {byAge}, {byYear, byAge}, {byYear, byAge, byClass}, {byYear, byAge, byClass, noSite}}

func halved(class string) string {
	switch class {
	case "1", "2":
		return "1-2"
	case "3", "4":
		return "3-4"
	}
	return class
}

func widened(age string) string {
	switch age {
	case "<50", "50-59":
		return "<60"
	case "60-69", "70-79":
		return "60-79"
	case "80-89", "90+":
		return "80+"
	}
	return age
}

// SmallCells measures the risk of the groups. Groups that agree are joined first.
// k is the size of a group (k-anonymity, Sweeney 2002), l the number of different
// outcomes in it (l-diversity, Machanavajjhala and others 2007).
func SmallCells(cells []Cell, withOutcome bool) Risk {
	r := Risk{K: []KShare{{1, 1, 0}, {2, 4, 0}, {5, 10, 0}, {11, 0, 0}}, WithOutcome: withOutcome, Mends: []Coarsening{}}
	groups := coarsen(cells, nil)
	for _, g := range groups {
		r.Cases += g.Cases
		if r.SmallestK == 0 || g.Cases < r.SmallestK {
			r.SmallestK = g.Cases
		}
		if withOutcome && g.Cases > 1 && (g.Outcome == 0 || g.Outcome == g.Cases) {
			r.SameOutcome += g.Cases
		}
		for i := range r.K {
			if g.Cases >= r.K[i].From && (r.K[i].To == 0 || g.Cases <= r.K[i].To) {
				r.K[i].Cases += g.Cases
			}
		}
	}
	r.Unique, r.Below5 = r.K[0].Cases, r.K[0].Cases+r.K[1].Cases
	if r.Below5 == 0 {
		return r
	}
	for _, steps := range coarsenings {
		m := Coarsening{What: describe(steps)}
		for _, g := range coarsen(cells, steps) {
			if g.Cases == 1 {
				m.Unique++
			}
			if g.Cases < 5 {
				m.Below5 += g.Cases
			}
		}
		r.Mends = append(r.Mends, m)
	}
	return r
}

// coarsen applies the steps and joins the cells that then agree.
func coarsen(cells []Cell, steps []step) map[Cell]Cell {
	groups := map[Cell]Cell{}
	for _, c := range cells {
		key := c
		for _, s := range steps {
			s.do(&key)
		}
		key.Cases, key.Outcome = 0, 0
		g := groups[key]
		g.Cases, g.Outcome = g.Cases+c.Cases, g.Outcome+c.Outcome
		groups[key] = g
	}
	return groups
}

func describe(steps []step) string {
	parts := make([]string, len(steps))
	for i, s := range steps {
		parts[i] = s.what
	}
	return strings.Join(parts, ", ")
}

// Mend gives the mildest coarsening after which no case stands alone, else the one
// that leaves the fewest. ok is false where there is nothing to mend.
func (r Risk) Mend() (m Coarsening, ok bool) {
	for i, c := range r.Mends {
		if i == 0 || c.Unique < m.Unique {
			m = c
		}
		if c.Unique == 0 {
			break
		}
	}
	return m, len(r.Mends) > 0
}
