package review

import (
	"cmp"
	"math"
	"slices"
)

// OwnBeside is the reader's own ratio of one outcome to what their cases predict.
type OwnBeside struct {
	Outcome  string        `json:"outcome"`
	Own      UnitRatio     `json:"own"`
	Peers    []PeerPoint   `json:"peers"` // unlabelled, by expected events
	Curve    []FunnelCurve `json:"funnel"`
	Quarters []TimePoint   `json:"quarters"` // own course: observed and expected; Value is their ratio
	Watch    *CusumChart   `json:"cusum,omitempty"`
}

// PeerPoint is a colleague's place in the funnel.
type PeerPoint struct {
	Expected Num `json:"expected"`
	Ratio    Num `json:"ratio"`
}

// ownBeside cuts one clinician's part from what is judged against case mix.
func ownBeside(f *Findings, code string) []OwnBeside {
	out := []OwnBeside{}
	for _, t := range f.Units {
		if t.Dimension != "clinician" {
			continue
		}
		o := OwnBeside{Outcome: t.Outcome, Peers: []PeerPoint{}, Curve: t.Curve, Quarters: []TimePoint{}}
		found := false
		for _, u := range t.Units {
			switch {
			case u.Code == code:
				o.Own, found = u, true
			case u.Ratio.TooFew == "":
				o.Peers = append(o.Peers, PeerPoint{u.Expected, u.Ratio.Value})
			}
		}
		if !found {
			continue
		}
		sortPeers(o.Peers)
		for _, c := range f.Cusums {
			if c.Outcome == t.Outcome && c.Dimension == "clinician" && c.Code == code {
				watch := c
				o.Watch, o.Quarters = &watch, byQuarters(c)
			}
		}
		out = append(out, o)
	}
	return out
}

// sortPeers puts points in the order of their expected events, which says nothing of
// the order of codes.
func sortPeers(p []PeerPoint) {
	slices.SortFunc(p, func(a, b PeerPoint) int {
		return cmp.Or(cmp.Compare(a.Expected, b.Expected), cmp.Compare(a.Ratio, b.Ratio))
	})
}

// byQuarters adds a unit's periods up by quarter, or keeps years.
func byQuarters(c CusumChart) []TimePoint {
	kind := byQuarter
	if c.Fineness == byYear {
		kind = byYear
	}
	out := []TimePoint{}
	for _, p := range c.Points {
		number, err := periodNumber(kind, p.Period)
		if err != nil {
			continue // the chart's own periods can be read
		}
		name := periodName(kind, number)
		if n := len(out); n == 0 || out[n-1].Period != name {
			out = append(out, TimePoint{Period: name, Low: Num(math.NaN()), High: Num(math.NaN()), Due: Num(math.NaN())})
		}
		last := &out[len(out)-1]
		last.Observed += p.Observed
		last.Expected += p.Expected
		last.Immature = last.Immature || p.Immature
		last.Value = Num(float64(last.Observed) / float64(last.Expected))
	}
	return out
}
