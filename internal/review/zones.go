package review

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// ZoneContrast is the difference in early sore spots at one place between dentures
// with a habit and those without it, both assessable. It is association, never cause.
type ZoneContrast struct {
	Habit      string   `json:"habit"`
	Arch       string   `json:"arch"`
	Zone       string   `json:"zone"`
	Side       string   `json:"side"` // the patient's own: left, right, middle, "" not recorded
	With       Estimate `json:"with"`
	Without    Estimate `json:"without"`
	Difference Estimate `json:"difference"` // spots per 100 dentures, with minus without
}

// Clear reports whether the interval leaves out no difference.
func (z ZoneContrast) Clear() bool {
	return z.Difference.TooFew == "" && (z.Difference.Low > 0 || z.Difference.High < 0)
}

const (
	zoneSideMethod     = "count over dentures delivered, exact Poisson limits; spots of one patient counted as independent"
	zoneContrastMethod = "difference of spots over dentures delivered, normal limits robust for patients with several dentures or spots, unadjusted for case mix"
)

// habitSizes are one habit's dentures in one arch: w with it, o without it, summed
// over patients: ww is the sum of squared dentures with it, wo of their products.
type habitSizes struct{ w, o, patients, ww, oo, wo int64 }

// zonesByHabit sets the sore spots of dentures with each habit named (all of them for
// none) beside those without, place by place, in the order of the habits' ids.
func (q *asker) zonesByHabit(ctx context.Context, ids []string) ([]ZoneContrast, error) {
	d, err := q.dentures(ctx)
	if err != nil {
		return nil, err
	}
	var habits []habit.Habit
	for _, h := range habit.Catalogue {
		if len(ids) == 0 || slices.Contains(ids, h.ID) {
			habits = append(habits, h)
		}
	}
	slices.SortFunc(habits, func(a, b habit.Habit) int { return strings.Compare(a.ID, b.ID) })
	found := make([][]ZoneContrast, len(habits))
	err = onAllCores(ctx, len(habits), func(i int) (err error) {
		sizes, sums := d.zonesOf(d.sides(habits[i].Column()))
		found[i], err = q.zoneContrasts(habits[i].ID, sizes, sums)
		return err
	})
	return notNil(slices.Concat(found...)), err
}

// zoneContrasts sets the places of one habit side by side, by arch and place.
func (q *asker) zoneContrasts(id string, sizes [2]habitSizes, sums [2][]zoneSums) ([]ZoneContrast, error) {
	var out []ZoneContrast
	for arch, name := range []string{"lower", "upper"} {
		s := sizes[arch]
		if s.w == 0 || s.o == 0 {
			continue // nothing to hold it against
		}
		for _, at := range zonesInOrder {
			p := zonePlaces[at]
			if sums[arch][at] == (zoneSums{}) {
				continue
			}
			z := ZoneContrast{Habit: id, Arch: name, Zone: p.zone, Side: p.side}
			if err := q.zoneContrast(&z, s, sums[arch][at]); err != nil {
				return nil, err
			}
			out = append(out, z)
		}
	}
	return out, nil
}

// zoneSums are the spots of one place, b for spots, w and o for with and without the
// habit: bwo is the sum over patients of spots with times dentures without.
type zoneSums struct{ bw, bo, bwbw, bobo, bwbo, bww, bwo, bow, boo int64 }

func (q *asker) zoneContrast(z *ZoneContrast, s habitSizes, c zoneSums) error {
	var err error
	if z.With, err = q.zoneSide(c.bw, s.w); err != nil {
		return err
	}
	if z.Without, err = q.zoneSide(c.bo, s.o); err != nil {
		return err
	}
	d := Estimate{Value: z.With.Value - z.Without.Value, Low: Num(math.NaN()), High: Num(math.NaN()), Level: q.s.Level, N: s.w + s.o, Events: c.bw + c.bo,
		Unit: "per 100 dentures", Method: zoneContrastMethod, Query: "denture_spots"}
	variance := c.variance(s)
	if s.patients >= 2 {
		robust, err := stats.RobustFromSquares(variance, s.patients)
		if err != nil {
			return err
		}
		half := Num(100 * stats.TwoSidedZ(q.s.Level) * math.Sqrt(robust.Variance))
		d.Low, d.High = d.Value-half, d.Value+half
	}
	d.Method += fewClusters(s.patients)
	d.Warnings = fewPatients(s.patients)
	if few := min(s.w, s.o); few < q.s.MinDentures {
		d.TooFew = q.tooFew(few)
	} else if d.Events < 2*q.s.MinRemakes || variance == 0 {
		d.TooFew = fmt.Sprintf("Too few to tell: %d spots in both sides together, %d or more are needed.", d.Events, 2*q.s.MinRemakes)
	}
	z.Difference = d
	return nil
}

func (q *asker) zoneSide(spots, n int64) (Estimate, error) {
	iv, err := stats.PoissonExact(spots, float64(n), q.s.Level)
	return Estimate{Value: Num(100 * float64(spots) / float64(n)), Low: Num(100 * iv.Low), High: Num(100 * iv.High), Level: q.s.Level, N: n, Events: spots,
		Unit: "per 100 dentures", Method: zoneSideMethod, Query: "denture_spots", Warnings: cautions(stats.PoissonExactWarnings(spots))}, err
}

// variance is the sum of squared pulls of patients on the difference of two means.
// Patient c with B spots on k dentures of a side of n dentures and mean m pulls it by
// (B - m k)/n, the two sides with opposite signs; the squares are multiplied out so
// that only integer sums over patients are needed, which are exact in any order.
func (c zoneSums) variance(s habitSizes) float64 {
	f := func(n int64) float64 { return float64(n) }
	mw, mo := f(c.bw)/f(s.w), f(c.bo)/f(s.o)
	with := f(c.bwbw) - 2*mw*f(c.bww) + mw*mw*f(s.ww)
	without := f(c.bobo) - 2*mo*f(c.boo) + mo*mo*f(s.oo)
	across := f(c.bwbo) - mo*f(c.bwo) - mw*f(c.bow) + mw*mo*f(s.wo)
	// Rounding can leave a sum of squares that cancel out just below nothing.
	return max(0, with/(f(s.w)*f(s.w))+without/(f(s.o)*f(s.o))-2*across/(f(s.w)*f(s.o)))
}

// zonesByHabitRows answers the question for every habit.
func (q *asker) zonesByHabitRows(ctx context.Context) ([][]any, error) {
	all, err := q.zonesByHabit(ctx, nil)
	var rows [][]any
	for _, z := range all {
		at := []any{z.Habit, z.Arch, z.Zone, z.Side}
		for _, s := range []struct {
			side string
			e    Estimate
		}{{"with", z.With}, {"without", z.Without}, {"difference", z.Difference}} {
			rows = append(rows, append(append([]any{}, at...), s.side, s.e))
		}
	}
	return rows, err
}

func habitIDs(all []Pair) []string {
	out := make([]string, len(all))
	for i, a := range all {
		out[i] = a.Habit
	}
	return out
}
