package review

import (
	"context"
	"errors"
	"slices"

	"afterfit/internal/store"
)

// Dimensions of Groups and exposures of Bands, in the order that pages show them.
var (
	dimensions = []string{"arch", "site", "clinician", "ridge_class", "quarter"}
	exposures  = []string{"freeway", "clearance", "seating", "discomfort", "display"}
	bandOrder  = []string{"low", "usual", "high", "within", "tight", "bulky", "uneven", "full", "partial", "no", "yes", "less", "near", "more", "not_recorded"}
)

// Run asks every question of the meeting pack.
func Run(ctx context.Context, st *store.Store, s Settings, h Header) (*Findings, error) {
	if h.Progress != nil {
		h.Progress("opening the store", 0, 1)
	}
	q, err := newAsker(ctx, st, s)
	if err != nil {
		return nil, err
	}
	defer q.close()
	q.progress = h.Progress
	f := &Findings{Schema: SchemaVersion, Version: h.Version, AsOf: h.AsOf,
		Headlines: []Headline{}, Curves: []Curve{}, Groups: []Group{}, Bands: []BandTable{}}
	if f.Fingerprint, err = st.KnownFingerprint(ctx); err != nil {
		return nil, err
	}
	if f.Basis, f.Invented, err = q.origin(ctx); err != nil {
		return nil, err
	}
	return f, q.find(ctx, f)
}

// find asks the questions in two lines side by side, of about as much work, so that no core
// waits where one of them cannot use them all: what sets dentures beside their habits; and
// what statements answer, with the curves and what is judged against case mix behind.
func (q *asker) find(ctx context.Context, f *Findings) (err error) {
	ended, err := q.halfOfCores(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, ended()) }()
	q.atStep("reading the dentures", 0, 1)
	if _, err := q.dentures(ctx); err != nil {
		return err
	}
	other, err := q.another(ctx)
	if err != nil {
		return err
	}
	err = atOnce(ctx, func() error { return q.firstLine(ctx, f) }, func() error {
		defer other.end()
		return other.secondLine(ctx, f)
	})
	if err != nil {
		return err
	}
	f.Strongest = strongestPairs(f.Pairs, 3)
	f.ZonesByHabit = []ZoneContrast{}
	if len(f.Strongest) > 0 {
		f.ZonesByHabit, err = q.zonesByHabit(ctx, habitIDs(f.Strongest))
	}
	return err
}

// firstLine fills outcomes, habits and pairs. Neither line may touch what the other fills.
func (q *asker) firstLine(ctx context.Context, f *Findings) error {
	if err := q.outcomes(ctx, f); err != nil {
		return err
	}
	return q.habitsAndPairs(ctx, f)
}

// secondLine fills all else.
func (q *asker) secondLine(ctx context.Context, f *Findings) (err error) {
	if f.Coverage, f.Notes, err = q.coverage(ctx); err != nil {
		return err
	}
	if f.Fields, err = q.fields(ctx); err != nil {
		return err
	}
	if f.Zones, err = q.zones(ctx); err != nil {
		return err
	}
	if f.Open, err = q.openCases(ctx, false); err != nil {
		return err
	}
	if err = q.sameAndLesions(ctx, f); err != nil {
		return err
	}
	r, err := q.readings(ctx)
	if err != nil {
		return err
	}
	if err := q.letGo(ctx, blocksKept); err != nil { // no statement follows
		return err
	}
	if f.Doses, err = q.dosesRead(ctx, r); err != nil {
		return err
	}
	return q.beside(ctx, f)
}

// shared fills what the summaries are cut from as well.
func (q *asker) shared(ctx context.Context, f *Findings) (err error) {
	if f.Coverage, f.Notes, err = q.coverage(ctx); err != nil {
		return err
	}
	if err = q.sameAndLesions(ctx, f); err != nil {
		return err
	}
	if err = q.habitsAndPairs(ctx, f); err != nil {
		return err
	}
	return q.beside(ctx, f)
}

func (q *asker) sameAndLesions(ctx context.Context, f *Findings) (err error) {
	if f.Same, err = q.sameValues(ctx); err != nil {
		return err
	}
	f.Lesions, err = q.lesions(ctx)
	return err
}

func (q *asker) habitsAndPairs(ctx context.Context, f *Findings) (err error) {
	q.atStep("habits", 0, 1)
	if f.Habits, err = q.habits(ctx); err != nil {
		return err
	}
	f.Pairs, err = q.allPairs(ctx)
	return err
}

// outcomes fills headlines, groups, bands and curves.
func (q *asker) outcomes(ctx context.Context, f *Findings) error {
	c, err := q.newCohort(ctx, slices.Concat([]string{"all"}, dimensions, exposures)...)
	if err != nil {
		return err
	}
	if err := c.robust(ctx); err != nil {
		return err
	}
	firsts, err := c.firsts(ctx)
	if err != nil {
		return err
	}
	asked := len(q.recurrents())
	estimates, orders := make([]map[groupKey]Estimate, asked+len(q.firsts())), make([][]groupKey, asked+len(q.firsts()))
	step := q.steps("outcomes", len(estimates))
	err = onAllCores(ctx, len(estimates), func(i int) (err error) {
		defer step()
		if i < asked {
			estimates[i], orders[i], err = c.recurrentEstimates(ctx, q.recurrents()[i])
		} else {
			estimates[i], orders[i], err = firsts.estimates(ctx, q.firsts()[i-asked])
		}
		return err
	})
	if err != nil {
		return err
	}
	for i := range estimates {
		if i < asked {
			f.place(q.recurrents()[i].outcome, estimates[i], orders[i])
		} else {
			f.place(q.firsts()[i-asked].outcome, estimates[i], orders[i])
		}
	}
	f.Curves, err = q.curves(firsts)
	return err
}

// place sorts one outcome's estimates into the findings.
func (f *Findings) place(outcome string, estimates map[groupKey]Estimate, order []groupKey) {
	by := map[string][]GroupValue{}
	for _, k := range order {
		by[k.dimension] = append(by[k.dimension], GroupValue{Code: k.code, Estimate: estimates[k]})
	}
	if all := by["all"]; len(all) == 1 {
		f.Headlines = append(f.Headlines, Headline{outcome, all[0].Estimate, notNil(by["quarter"])})
	}
	for _, d := range dimensions {
		if len(by[d]) > 0 {
			f.Groups = append(f.Groups, Group{outcome, d, by[d]})
		}
	}
	for _, x := range exposures {
		if len(by[x]) == 0 {
			continue
		}
		values := slices.Clone(by[x])
		slices.SortStableFunc(values, func(a, b GroupValue) int {
			return slices.Index(bandOrder, a.Code) - slices.Index(bandOrder, b.Code)
		})
		f.Bands = append(f.Bands, BandTable{x, outcome, values})
	}
}

func notNil[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}
