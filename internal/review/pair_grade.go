package review

import (
	"math"

	"afterfit/internal/habit"
)

// The grades are given by these rules, from the top, the first that fits:
//
//	too few    fewer than the setting's dentures, or than gradeEvents events, on a side, or no limits
//	clear      stated in advance; the 95 % interval of the ratio within clinicians leaves out 1 on the side expected;
//	           q below clearQ over the whole family; the case-mix figure agrees; the E-value of the limit is clearE or more
//	likely     the interval leaves out 1, q is below likelyQ, and the case-mix figure agrees
//	no sign    the interval holds 1 and nothing worth seeing on the side expected
//	unclear    everything else
//
// All rest on one interval, the ratio's; that of the difference may disagree with it at
// the edge and is not asked. House values without a source: they are set so that with
// no true effect at most 5 % of reviews show any clear finding, which Benjamini &
// Hochberg's q below 5 % alone gives when nothing at all is true.
const (
	gradeEvents = 10
	clearQ      = 0.05
	likelyQ     = 0.20
	clearE      = 1.25
	seenOften   = 1.25 // the ratio worth seeing for events that recur
	seenOnce    = 1.5  // and for those that count once, which are fewer
)

// Rules that keep a pair from a surer grade, as Pair.Held names them.
const (
	heldFew      = "few"
	heldInterval = "interval"
	heldQ        = "q"
	heldStated   = "stated"
	heldSide     = "side"
	heldCaseMix  = "case_mix"
	heldHidden   = "hidden"
)

// worthSeeing is the ratio that a review should be able to see or rule out.
func worthSeeing(once bool) float64 {
	if once {
		return seenOnce
	}
	return seenOften
}

// enough reports whether both sides of a fit have dentures and events enough.
func (s Settings) enough(v *view) bool {
	return v.ok && v.n[0] >= s.MinDentures && v.n[1] >= s.MinDentures && v.events[0] >= gradeEvents && v.events[1] >= gradeEvents
}

// grade applies the rules to a pair that has everything but its grade.
func (p *Pair) grade() {
	p.Held = []string{}
	r := p.Within.Ratio
	if r.TooFew != "" || !r.Low.Known() || !r.High.Known() {
		p.Grade, p.Held = TooFew, []string{heldFew}
		return
	}
	hold := func(rule string, failed bool) {
		if failed {
			p.Held = append(p.Held, rule)
		}
	}
	more, fewer := r.Low > 1, r.High < 1
	asked := habit.Direction(p.Direction)
	agrees := p.CaseMix.Ratio.Value.Known() && (p.CaseMix.Ratio.Value > 1) == (r.Value > 1)
	hold(heldInterval, !more && !fewer)
	hold(heldCaseMix, !agrees)
	hold(heldQ, !p.Control && !(p.Q < likelyQ))
	likely := len(p.Held) == 0
	hold(heldQ, likely && !p.Control && !(p.Q < clearQ))
	hold(heldStated, !p.Stated)
	hold(heldSide, (more || fewer) && (asked == habit.More && !more || asked == habit.Fewer && !fewer))
	hold(heldHidden, !(p.ELimit >= clearE))
	switch {
	case len(p.Held) == 0:
		p.Grade = Clear
	case likely:
		p.Grade = Likely
	case !more && !fewer && p.ruledOut(asked):
		p.Grade = NoSign
	default:
		p.Grade = Unclear
	}
}

// ruledOut reports whether the interval leaves out the ratio worth seeing on the side
// expected, or on both where no side is.
func (p *Pair) ruledOut(asked habit.Direction) bool {
	r := p.Within.Ratio
	high, low := r.High < p.Seen, r.Low > 1/p.Seen
	switch asked {
	case habit.More:
		return high
	case habit.Fewer:
		return low
	}
	return high && low
}

// adverse reports whether a pair is graded clear or likely and goes with more trouble.
func (p *Pair) adverse() bool {
	return !p.Control && (p.Grade == Clear || p.Grade == Likely) && p.Within.Ratio.Value > 1
}

// strength orders pairs: the grade first, then how many standard errors the ratio lies
// from 1.
func (p *Pair) strength() float64 {
	r := p.Within.Ratio
	z := math.Log(float64(r.Value)) / math.Log(float64(r.High/r.Low))
	if p.Grade == Clear {
		return 1e6 + z
	}
	return z
}
