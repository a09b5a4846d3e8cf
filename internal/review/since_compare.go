package review

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"afterfit/internal/stats"
)

// ReadFindings reads what pack --json printed and refuses anything else.
func ReadFindings(raw []byte) (*Findings, error) {
	var f Findings
	if err := json.Unmarshal(raw, &f); err != nil {
		return nil, fmt.Errorf("not the findings of a review: %w", err)
	}
	if f.Schema == 0 || f.Fingerprint == "" || f.Headlines == nil {
		return nil, fmt.Errorf("not the findings of a review: print them with 'afterfit pack --json'")
	}
	if f.Schema != SchemaVersion {
		return nil, fmt.Errorf("these findings have form %d, this program reads form %d", f.Schema, SchemaVersion)
	}
	return &f, nil
}

// movedLevel is the level at which a figure counts as moved: about ten figures are
// looked at, so 1 in 100 each.
const movedLevel = 0.99

const movedRule = "A figure has moved when it differs from the earlier one by more than new and late data alone would make it differ in 99 of 100 reviews. " +
	"The later review holds the earlier one's cases as well, so the standard error of the difference is the root of earlier variance less later variance; where new data has hardly narrowed the interval there is too little new to tell."

// Kinds of Moved.
const (
	kindMoved, kindSteady, kindUnknown = "moved", "steady", "unknown"
	kindAppeared, kindWent             = "appeared", "went"
	kindStronger, kindWeaker           = "stronger", "weaker"
)

// leastNarrower is by what share the variance must have fallen for a difference to be
// judged; below it the new data is too thin.
const leastNarrower = 0.05

// Compare sets findings beside an earlier review's of the same service.
func Compare(then, now *Findings) *Since {
	s := &Since{Fingerprint: then.Fingerprint, AsOf: then.AsOf, LastPeriod: then.Coverage.LastPeriod, Rule: movedRule,
		Figures: []Moved{}, Findings: []Moved{}, Units: []Moved{}, Late: []LateData{},
		NewCases: now.Coverage.Cases - then.Coverage.Cases, NewDentures: now.Coverage.Delivered - then.Coverage.Delivered}
	for _, h := range now.Headlines {
		i := slices.IndexFunc(then.Headlines, func(o Headline) bool { return o.Outcome == h.Outcome })
		if i >= 0 {
			s.Figures = append(s.Figures, Moved{ID: h.Outcome, Outcome: h.Outcome, Then: then.Headlines[i].Overall, Now: h.Overall, Kind: movedKind(then.Headlines[i].Overall, h.Overall)})
		}
	}
	s.Findings = compareFindings(then.Strongest, now.Strongest)
	s.Units = compareUnits(then.Units, now.Units)
	for _, t := range now.Times {
		if t.Dimension != "all" {
			continue
		}
		for _, o := range then.Times {
			if o.Dimension == "all" && o.Outcome == t.Outcome && o.Fineness == t.Fineness {
				s.Late = append(s.Late, lateData(o, t))
			}
		}
	}
	return s
}

// standardError is half the interval's width over its quantile, on the log scale for a
// positive figure with a positive lower limit: that is how these intervals were made.
func standardError(e Estimate) (at, se float64, logs bool) {
	if e.TooFew != "" || !e.Value.Known() || !e.Low.Known() || !e.High.Known() || !(e.Level > 0 && e.Level < 1) {
		return math.NaN(), math.NaN(), false
	}
	z := stats.TwoSidedZ(e.Level)
	if e.Low > 0 {
		return math.Log(float64(e.Value)), math.Log(float64(e.High/e.Low)) / (2 * z), true
	}
	return float64(e.Value), float64(e.High-e.Low) / (2 * z), false
}

// movedKind applies the rule to one figure.
func movedKind(then, now Estimate) string {
	a, seA, logsA := standardError(then)
	b, seB, logsB := standardError(now)
	if logsA != logsB || math.IsNaN(a) || math.IsNaN(b) || seA <= 0 {
		return kindUnknown
	}
	variance := seA*seA - seB*seB
	switch {
	case variance < leastNarrower*seA*seA:
		return kindUnknown
	case math.Abs(b-a) > stats.TwoSidedZ(movedLevel)*math.Sqrt(variance):
		return kindMoved
	}
	return kindSteady
}

// compareFindings tells which pairs appeared, went, or changed in strength.
func compareFindings(then, now []Pair) []Moved {
	out := []Moved{}
	same := func(a Pair) func(Pair) bool {
		return func(b Pair) bool { return a.Habit == b.Habit && a.Outcome == b.Outcome }
	}
	for _, a := range now {
		m := Moved{ID: a.Habit, Outcome: a.Outcome, Now: a.Within.Difference, Then: unknownEstimate(), Kind: kindAppeared}
		if i := slices.IndexFunc(then, same(a)); i >= 0 {
			m.Then = then[i].Within.Difference
			if m.Kind = movedKind(m.Then, m.Now); m.Kind == kindMoved {
				m.Kind = kindWeaker
				if math.Abs(float64(m.Now.Value)) > math.Abs(float64(m.Then.Value)) {
					m.Kind = kindStronger
				}
			}
		}
		out = append(out, m)
	}
	for _, a := range then {
		if !slices.ContainsFunc(now, same(a)) {
			out = append(out, Moved{ID: a.Habit, Outcome: a.Outcome, Then: a.Within.Difference, Now: unknownEstimate(), Kind: kindWent})
		}
	}
	return out
}

func unknownEstimate() Estimate {
	return Estimate{Value: Num(math.NaN()), Low: Num(math.NaN()), High: Num(math.NaN())}
}

// compareUnits tells which units came to lie outside the 99.8 % limits, and which no
// longer do. ID is dimension and code.
func compareUnits(then, now []UnitTable) []Moved {
	type place struct{ outcome, dimension, code string }
	far := func(all []UnitTable) (map[place]UnitRatio, []place) {
		out := map[place]UnitRatio{}
		var order []place
		for _, t := range all {
			for _, u := range t.Units {
				k := place{t.Outcome, t.Dimension, u.Code}
				out[k], order = u, append(order, k)
			}
		}
		return out, order
	}
	before, _ := far(then)
	after, order := far(now)
	out := []Moved{}
	for _, k := range order {
		a, known := before[k]
		was, is := a.Flag == 2 || a.Flag == -2, after[k].Flag == 2 || after[k].Flag == -2
		if was == is {
			continue
		}
		m := Moved{ID: k.dimension + ":" + k.code, Outcome: k.outcome, Then: a.Ratio, Now: after[k].Ratio, Kind: kindAppeared}
		if !known {
			m.Then = unknownEstimate()
		}
		if was {
			m.Kind = kindWent
		}
		out = append(out, m)
	}
	return out
}

// lateData counts what came in for periods that the earlier review already charted.
func lateData(then, now TimeChart) LateData {
	l := LateData{Outcome: now.Outcome}
	for _, p := range then.Points {
		l.Dentures -= p.N
		l.Events -= p.Observed
		l.Then += p.Observed
	}
	for _, p := range now.Points {
		if n := len(then.Points); n > 0 && p.Period >= then.Points[0].Period && p.Period <= then.Points[n-1].Period {
			l.Dentures += p.N
			l.Events += p.Observed
		}
	}
	return l
}
