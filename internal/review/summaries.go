package review

import (
	"cmp"
	"context"
	"errors"
	"slices"

	"afterfit/internal/habit"
	"afterfit/internal/store"
)

// Summaries answers for each clinician named, or for all. A code without a
// delivered denture is left out. What Run found in the same store with the same
// settings saves working it out again; nil works it out here.
func Summaries(ctx context.Context, st *store.Store, s Settings, h Header, codes []string, found *Findings) (_ []Summary, err error) {
	q, err := newAsker(ctx, st, s)
	if err != nil {
		return nil, err
	}
	defer q.close()
	q.progress = h.Progress
	ended, err := q.halfOfCores(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, ended()) }()
	beside, err := q.another(ctx)
	if err != nil {
		return nil, err
	}
	defer beside.end()
	base := Summary{Schema: SchemaVersion, Version: h.Version, AsOf: h.AsOf}
	if base.Fingerprint, err = st.KnownFingerprint(ctx); err != nil {
		return nil, err
	}
	if base.Basis, base.Invented, err = q.origin(ctx); err != nil {
		return nil, err
	}
	m, err := q.material(ctx, beside, found)
	if err != nil {
		return nil, err
	}
	asked := []string{}
	for _, code := range m.clinicians {
		if len(codes) == 0 || slices.Contains(codes, code) {
			asked = append(asked, code)
		}
	}
	m.sortValues()
	q.atStep("summaries", 0, 1)
	out := make([]Summary, len(asked))
	err = onAllCores(ctx, len(asked), func(i int) (err error) {
		out[i], err = q.summary(base, m, asked[i])
		return err
	})
	if err != nil {
		return nil, err
	}
	if err := q.casesToLook(ctx, out); err != nil {
		return nil, err
	}
	q.atStep("summaries", 1, 1)
	return out, nil
}

// material is what every summary is cut from; it is asked for once.
type material struct {
	clinicians []string
	outcomes   []string
	own        map[string]map[string]Estimate // outcome, clinician
	others     map[string]map[string]Estimate // outcome, clinician whose colleagues they are
	trend      map[string][]GroupValue
	counts     map[string]map[string]habitCount
	sums       map[string]habitCount // by habit: of all clinicians
	values     map[string][]Num      // by outcome, in order: of all clinicians, where they are not too few
	shares     map[string][]Num      // by habit likewise, in %
	coverage   map[string]coverageRow
	open       map[string][]OpenCase
	lesions    map[string][]Lesion
	found      *Findings // what asker.shared fills
}

// material asks for it. What asks for nothing but rows goes over a connection of its own,
// beside the work on dentures in memory.
func (q *asker) material(ctx context.Context, beside *asker, found *Findings) (*material, error) {
	m := &material{own: map[string]map[string]Estimate{}, others: map[string]map[string]Estimate{}, trend: map[string][]GroupValue{}}
	if m.found = found; found == nil {
		m.found = &Findings{}
		if err := q.shared(ctx, m.found); err != nil {
			return nil, err
		}
	}
	m.countHabits()
	return m, atOnce(ctx, func() error {
		if err := q.clinicianDentures(ctx, m.found); err != nil {
			return err
		}
		return q.ownAndOthers(ctx, m)
	}, func() (err error) {
		if m.coverage, err = beside.ownCoverage(ctx); err != nil {
			return err
		}
		return beside.casesToOpen(ctx, m)
	})
}

// clinicianDentures reads what summaries need of the dentures, where they are not read yet.
func (q *asker) clinicianDentures(ctx context.Context, found *Findings) (err error) {
	if q.all != nil {
		return nil
	}
	of := denturesColumns{texts: []string{"clinician", "records_on"}}
	strongest := habitIDs(strongestPairs(found.Pairs, len(found.Pairs)))
	for _, h := range habit.Catalogue {
		if slices.Contains(strongest, h.ID) {
			of.habits = append(of.habits, h)
		}
	}
	q.all, err = q.readDentures(ctx, of)
	return err
}

// casesToOpen sorts cases and lesions by clinician.
func (q *asker) casesToOpen(ctx context.Context, m *material) error {
	m.open, m.lesions = map[string][]OpenCase{}, map[string][]Lesion{}
	open, err := q.openCases(ctx, true)
	for _, c := range open {
		m.open[c.Clinician] = append(m.open[c.Clinician], c)
	}
	for _, l := range m.found.Lesions {
		m.lesions[l.Clinician] = append(m.lesions[l.Clinician], l)
	}
	return err
}

// summary cuts one clinician's page from the material.
func (q *asker) summary(s Summary, m *material, code string) (Summary, error) {
	s.Clinician = code
	var err error
	if s.Coverage, s.Notes, err = q.covered(m.coverage[code]); err != nil {
		return s, err
	}
	s.Figures, s.Habits, s.Strengths, s.Try = []OwnFigure{}, []OwnHabit{}, []Strength{}, []Try{}
	s.Trend = notNil(m.trend[code])
	s.Beside = ownBeside(m.found, code)
	for _, o := range m.outcomes {
		own, ok := m.own[o][code]
		others, okOthers := m.others[o][code]
		if !ok || !okOthers {
			continue
		}
		s.Figures = append(s.Figures, OwnFigure{o, own, others, m.peers(o, code)})
		if lower(own, others) {
			s.Strengths = append(s.Strengths, Strength{"outcome", o, own, others})
		}
	}
	if err := q.ownHabits(&s, m, code); err != nil {
		return s, err
	}
	s.Same = m.sameOf(code)
	worthTrying(&s, m)
	s.Open, s.Lesions = notNil(m.open[code]), notNil(m.lesions[code])
	return s, nil
}

// peers are the colleagues' values of an outcome, ascending and without names.
func (m *material) peers(outcome, code string) []Num {
	own, ok := m.own[outcome][code]
	return without(m.values[outcome], own.Value, ok && own.TooFew == "")
}

// without are values in order, less one that is like own if own is among them.
func without(values []Num, own Num, among bool) []Num {
	at := len(values)
	if among {
		at, _ = slices.BinarySearch(values, own)
	}
	return append(append(make([]Num, 0, len(values)), values[:at]...), values[min(at+1, len(values)):]...)
}

// sortValues puts what clinicians have of every outcome and habit in order, once for all of
// them, and sums the habits.
func (m *material) sortValues() {
	m.values, m.shares, m.sums = map[string][]Num{}, map[string][]Num{}, map[string]habitCount{}
	for outcome, own := range m.own {
		for _, code := range m.clinicians {
			if e, ok := own[code]; ok && e.TooFew == "" {
				m.values[outcome] = append(m.values[outcome], e.Value)
			}
		}
		slices.Sort(m.values[outcome])
	}
	for id, counts := range m.counts {
		sum := habitCount{}
		for _, code := range m.clinicians {
			if n := counts[code]; n.with+n.without > 0 {
				sum = habitCount{sum.with + n.with, sum.without + n.without, sum.missing + n.missing}
				m.shares[id] = append(m.shares[id], n.share())
			}
		}
		slices.Sort(m.shares[id])
		m.sums[id] = sum
	}
}

// share is that of the dentures or cases with a habit among those that can be assessed, in %.
func (n habitCount) share() Num { return Num(100 * float64(n.with) / float64(n.with+n.without)) }

// lower reports whether the whole interval of own lies below the others' value,
// higher whether it lies above: a plain rule that errs on the quiet side for a
// reader who looks at several figures at once.
func lower(own, others Estimate) bool {
	return own.TooFew == "" && others.TooFew == "" && own.High < others.Low
}

func higher(own, others Estimate) bool {
	return own.TooFew == "" && others.TooFew == "" && own.Low > others.High
}

func (q *asker) ownHabits(s *Summary, m *material, code string) error {
	for _, h := range habit.Catalogue {
		mine, ok := m.counts[h.ID][code]
		if !ok || mine.with+mine.without == 0 {
			continue
		}
		sum := m.sums[h.ID]
		rest := habitCount{sum.with - mine.with, sum.without - mine.without, sum.missing - mine.missing}
		own, err := q.habitShare(h, mine)
		if err != nil {
			return err
		}
		others, err := q.habitShare(h, rest)
		if err != nil {
			return err
		}
		s.Habits = append(s.Habits, OwnHabit{h.ID, own, others, without(m.shares[h.ID], mine.share(), true), m.shrunkOf(h.ID, code)})
		if lower(own, others) && h.Advice != "" {
			s.Strengths = append(s.Strengths, Strength{"habit", h.ID, own, others})
		}
	}
	return nil
}

// worthTrying picks at most three habits that are the reader's more often than
// colleagues' and that go with more trouble in this service (graded clear or likely),
// the one first that makes up most of the reader's own figure: the difference times
// the reader's share with the habit.
func worthTrying(s *Summary, m *material) {
	worth := []Try{}
	for _, p := range strongestPairs(m.found.Pairs, len(m.found.Pairs)) {
		h, _ := habit.Find(p.Habit)
		i := slices.IndexFunc(s.Habits, func(o OwnHabit) bool { return o.Habit == p.Habit })
		if i >= 0 && h.Advice != "" && higher(s.Habits[i].Own, s.Habits[i].Colleagues) {
			worth = append(worth, Try{Habit: p.Habit, Own: s.Habits[i].Own, Colleagues: s.Habits[i].Colleagues, Pair: p, Cases: []string{}})
		}
	}
	slices.SortStableFunc(worth, func(a, b Try) int { return cmp.Compare(b.share(), a.share()) })
	s.Try = append(s.Try, worth[:min(mostTried, len(worth))]...)
}

// share is what the habit makes up of the reader's own figure, as a part of it, if the
// difference were its doing: comparable between outcomes of different sizes.
func (t Try) share() float64 {
	own := float64(t.Own.Value) / 100 * (float64(t.Pair.Within.Ratio.Value) - 1)
	return own / (1 + own)
}
