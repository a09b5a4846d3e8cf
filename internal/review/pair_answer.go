package review

import (
	"errors"
	"fmt"
	"math"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// How the three comparisons and their companions are made, in words for the page.
const (
	withinMethod  = "rate ratio within clinician, arch and band of expected trouble (conditional Poisson), limits robust for patients with several dentures"
	caseMixMethod = "rate ratio from a Poisson model of habit, arch and case mix, limits robust for patients with several dentures"
	crudeMethod   = "rate ratio within arch, limits robust for patients with several dentures"
	betweenMethod = "Poisson regression of clinicians' events on their share with the habit, expected events as exposure, limits for overdispersion with Student's law"
	handsMethod   = "rate ratio within clinicians, limits robust for clinicians with Student's law"
	missingMethod = "events over the share of follow-up, exact Poisson limits widened for overdispersion"
	per100        = "per 100 dentures"
	times         = "times"
)

func noNumber(level float64, unit, method, query string) Estimate {
	nan := Num(math.NaN())
	return Estimate{Value: nan, Low: nan, High: nan, Level: level, Unit: unit, Method: method, Query: query}
}

// answer turns a fit into a finding that lacks only its q-value and grade.
func (q *asker) answer(h habit.Hypothesis, asked []string, f *pairFit, service pairService, days int, once bool) (Pair, error) {
	nan := Num(math.NaN())
	p := Pair{ID: h.ID, Habit: h.Exposure, Outcome: h.Outcome, Days: days, Direction: string(h.Direction), Stated: h.Stated, Control: h.Control,
		Asked: notNil(asked), Adjusted: []string{}, Arches: []GroupValue{}, P: nan, Q: nan, EValue: nan, ELimit: nan, Seen: Num(worthSeeing(once)),
		Bounds: bounds(f.patterns)}
	if f.mix != nil {
		p.Adjusted = notNil(f.mix.kept)
	}
	p.Within, p.CaseMix, p.Crude = q.comparison(&f.within, withinMethod), q.comparison(&f.byMix, caseMixMethod), q.comparison(&f.crude, crudeMethod)
	p.Between, p.Hands = noNumber(q.s.Level, times, betweenMethod, "denture_words"), noNumber(q.s.Level, times, handsMethod, "denture_words")
	p.Saved = Saving{noNumber(q.s.Level, "a year", withinMethod, "denture_words"), noNumber(q.s.Level, "minutes a year", withinMethod, "denture_words")}
	p.Within.Ratio.TooFew = q.tooFewPair(f)
	if p.Within.Ratio.TooFew == "" {
		if err := q.told(&p, f, service); err != nil {
			return p, err
		}
	}
	if h.ByArch {
		for _, a := range []struct {
			name string
			at   int
		}{{"upper", 1}, {"lower", 0}} {
			p.Arches = append(p.Arches, GroupValue{Code: a.name, Estimate: q.ratio(&f.arch[a.at], withinMethod)})
		}
	}
	var err error
	if p.Missing, err = q.missing(f); err != nil {
		return p, err
	}
	p.More, err = f.moreNeeded(float64(p.Seen))
	return p, err
}

// told fills what only a pair with enough behind it has.
func (q *asker) told(p *Pair, f *pairFit, service pairService) error {
	w := &f.within
	lower, upper := stats.NormalTails(math.Abs(w.log) / math.Sqrt(w.variance))
	p.P = Num(math.Min(1, 2*math.Min(lower, upper)))
	r := p.Within.Ratio
	e, err := stats.EValueRatio(float64(r.Value), stats.Interval{Low: float64(r.Low), High: float64(r.High)})
	if err != nil {
		return err
	}
	p.EValue, p.ELimit = Num(e.Estimate), Num(e.Limit)
	if p.Between, err = q.between(f); err != nil {
		return err
	}
	p.Hands = q.hands(f)
	perYear := float64(f.exposed) / service.years
	scaled := func(by float64, unit string) Estimate {
		d := p.Within.Difference
		d.Value, d.Low, d.High = d.Value*Num(by/100), d.Low*Num(by/100), d.High*Num(by/100)
		d.Unit, d.N = unit, int64(math.Round(perYear))
		return d
	}
	p.Saved.PerYear = scaled(perYear, "a year")
	if p.Outcome == Adjustments && !math.IsNaN(service.visitMinutes) {
		p.Saved.Minutes = scaled(perYear*service.visitMinutes, "minutes a year")
	}
	return nil
}

// tooFewPair is the sentence for a pair that cannot be told, "" otherwise.
func (q *asker) tooFewPair(f *pairFit) string {
	if q.s.enough(&f.within) {
		return ""
	}
	if f.mix == nil {
		return fmt.Sprintf("Too few to tell: %d dentures with the habit (%d events) and %d without (%d events); %d dentures and %d events on each side are needed.",
			f.exposed, f.eventsWith, f.assessable-f.exposed, f.eventsOut, q.s.MinDentures, gradeEvents)
	}
	w := f.within
	return fmt.Sprintf("Too few to tell: %d dentures with the habit (%d events) and %d without (%d events) could be compared within clinicians; %d dentures and %d events on each side are needed.",
		w.n[1], w.events[1], w.n[0], w.events[0], q.s.MinDentures, gradeEvents)
}

// ratio is a view's ratio with its limits, or the sentence why there is none.
func (q *asker) ratio(v *view, method string) Estimate {
	e := noNumber(q.s.Level, times, method, "denture_words")
	e.N, e.Events = v.n[0]+v.n[1], v.events[0]+v.events[1]
	if !v.ok {
		e.TooFew = "Too few to tell."
		return e
	}
	e.Value = Num(math.Exp(v.log))
	half := stats.TwoSidedZ(q.s.Level) * math.Sqrt(v.variance)
	e.Low, e.High = Num(math.Exp(v.log-half)), Num(math.Exp(v.log+half))
	if !q.s.enough(v) {
		e.TooFew = fmt.Sprintf("Too few to tell: %d events with the habit and %d without.", v.events[1], v.events[0])
	}
	return e
}

func (q *asker) comparison(v *view, method string) Comparison {
	c := Comparison{Ratio: q.ratio(v, method), Strata: v.strata, LeftOut: v.leftOut}
	figure := func(value, sd float64, n, events int64, floor bool) Estimate {
		e := noNumber(q.s.Level, per100, method, "denture_words")
		if e.N, e.Events, e.TooFew = n, events, c.Ratio.TooFew; v.ok {
			half := stats.TwoSidedZ(q.s.Level) * sd
			e.Value, e.Low, e.High = Num(100*value), Num(100*(value-half)), Num(100*(value+half))
			if floor {
				e.Low = max(e.Low, 0)
			}
		}
		return e
	}
	c.With = figure(v.with, v.sdWith, v.n[1], v.events[1], true)
	c.Without = figure(v.without, v.sdOut, v.n[0], v.events[0], true)
	c.Difference = figure(v.difference, v.sdD, v.n[0]+v.n[1], v.events[0]+v.events[1], false)
	return c
}

// between regresses clinicians' events, beside those their case mix lets expect, on
// their share with the habit: what part of the crude figure is the person's.
func (q *asker) between(f *pairFit) (Estimate, error) {
	e := noNumber(q.s.Level, times, betweenMethod, "denture_words")
	data := stats.Patterns{Names: []string{"one", "share"}}
	for c := 0; c < len(f.cells)/(2*f.mix.bands); c++ {
		var n [2]int64
		var y int64
		expected := 0.0
		for i := c * 2 * f.mix.bands; i < (c+1)*2*f.mix.bands; i++ {
			for side, s := range f.cells[i] {
				n[side], y = n[side]+s.n, y+s.y
				expected += f.mix.base[f.archOf(i)] * float64(s.size) / 1e9
			}
		}
		if n[0]+n[1] < q.s.MinDentures || expected == 0 {
			continue
		}
		data.X = append(data.X, 1, float64(n[1])/float64(n[0]+n[1]))
		data.Y, data.Offset = append(data.Y, float64(y)), append(data.Offset, math.Log(expected))
		e.N, e.Events = e.N+n[0]+n[1], e.Events+y
	}
	if len(data.Y) < 4 {
		e.TooFew = fmt.Sprintf("Too few to tell: %d clinicians, 4 or more are needed.", len(data.Y))
		return e, nil
	}
	fit, err := stats.FitGLM(stats.Poisson, data)
	if err != nil {
		return e, err
	}
	cov, err := fit.QuasiCovariance()
	if err != nil {
		return e, err
	}
	effect, err := fit.Wald(1, cov, q.s.Level)
	if err != nil || math.IsInf(effect.SE, 0) {
		e.TooFew = "Every clinician has the habit equally often."
		return e, err
	}
	e.Value, e.Low, e.High = Num(math.Exp(effect.Estimate)), Num(math.Exp(effect.Limits.Low)), Num(math.Exp(effect.Limits.High))
	e.Warnings = cautions(fit.Warnings)
	return e, nil
}

// hands is the ratio within clinicians with limits that let it differ from clinician
// to clinician. They are shown beside and not graded from: the wider of two honest
// intervals would cover more than it says.
func (q *asker) hands(f *pairFit) Estimate {
	e := q.ratio(&f.within, handsMethod)
	if f.clinicians < 4 {
		e.Low, e.High = Num(math.NaN()), Num(math.NaN())
		e.TooFew = fmt.Sprintf("Too few to tell: %d clinicians, 4 or more are needed.", f.clinicians)
		return e
	}
	g := float64(f.clinicians)
	se := math.Sqrt(f.within.inflate*g/(g-1)*f.handsSquares) / f.within.info
	half := stats.TwoSidedT(q.s.Level, g-1) * se
	e.Low, e.High = Num(math.Exp(f.within.log-half)), Num(math.Exp(f.within.log+half))
	return e
}

// missing is the figure of dentures in which the habit cannot be assessed.
func (q *asker) missing(f *pairFit) (Estimate, error) {
	e := noNumber(q.s.Level, per100, missingMethod, "denture_words")
	share := 0.0
	for _, p := range f.patterns {
		if p.side < 0 {
			e.N, e.Events = e.N+p.n, e.Events+p.y
			share += float64(p.share) / 1e9
		}
	}
	if e.TooFew = q.tooFew(e.N); e.TooFew != "" || share == 0 {
		return e, nil
	}
	units, err := stats.Disperse([]stats.UnitCount{{Observed: float64(e.Events), Expected: share}}, f.dispersion())
	if err != nil {
		return e, err
	}
	r, err := stats.IndirectRatios(units, q.s.Level)
	if err != nil {
		return e, err
	}
	e.Value, e.Low, e.High = Num(100*r[0].Ratio), Num(100*r[0].Limits.Low), Num(100*r[0].Limits.High)
	return e, nil
}

// bounds are the crude ratios if, of the dentures in which the habit cannot be
// assessed, those with an event had all been made without it and the others with it,
// and the other way round.
func bounds(patterns []mixPattern) [2]Num {
	var y, share [2]float64
	var missY, hit, clean float64
	for _, p := range patterns {
		if p.side >= 0 {
			y[p.side], share[p.side] = y[p.side]+float64(p.y), share[p.side]+float64(p.share)
			continue
		}
		missY, hit, clean = missY+float64(p.y), hit+float64(p.shared), clean+float64(p.share-p.shared)
	}
	rate := func(y1, s1, y0, s0 float64) Num {
		if s1 == 0 || s0 == 0 || y0 == 0 {
			return Num(math.NaN())
		}
		return Num(y1 / s1 / (y0 / s0))
	}
	return [2]Num{rate(y[1], share[1]+clean, y[0]+missY, share[0]+hit), rate(y[1]+missY, share[1]+hit, y[0], share[0]+clean)}
}

// moreNeeded is how many dentures with the habit are still needed to see a ratio with
// a power of 80 %, sides staying as unequal and counts as spread as they are.
func (f *pairFit) moreNeeded(ratio float64) (int64, error) {
	var n [2]int64
	var y, share float64
	for _, p := range f.patterns {
		if p.side >= 0 {
			n[p.side] += p.n
			y, share = y+float64(p.y), share+float64(p.share)/1e9
		}
	}
	if n[0] == 0 || n[1] == 0 || y == 0 {
		return 0, nil
	}
	design := stats.DefaultPowerDesign
	design.Allocation = float64(n[0]) / float64(n[1])
	size, err := stats.SizeTwoRates(stats.RatePair{First: ratio * y / share, Second: y / share, Dispersion: f.dispersion()}, design)
	if errors.Is(err, stats.ErrBadInput) {
		return 0, nil
	}
	return max(0, size.First-n[1]), err
}
