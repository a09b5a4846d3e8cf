package review

import (
	"context"
	"database/sql"
	"math"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// SameValue is one clinician's most frequent value of one quantity, beside the
// largest share that one value would have in someone who reads each patient.
type SameValue struct {
	Habit     string   `json:"habit"` // id among the clinician habits
	Clinician string   `json:"clinician"`
	Value     Num      `json:"value"` // the most frequent one; of several the smallest
	Distinct  int64    `json:"distinct_values"`
	Share     Estimate `json:"share"`    // % at that value
	Expected  Num      `json:"expected"` // %; null where nothing can be expected
	P         Num      `json:"p"`        // chance of so large a share, or larger, at any value; at most 1
	Verdict   string   `json:"verdict"`
}

// Verdicts on a SameValue.
const (
	AsExpected   = "as_expected"
	MoreAlike    = "more_alike"    // more often than expected
	NearlyAlways = "nearly_always" // more often than expected, and in at least SameShare of all
	CannotTell   = "cannot_tell"   // too few, or nothing to compare with
)

// sameP is the chance below which a share counts as more than expected. A house
// value: with fifty clinicians about one review in twenty shows one by chance.
const sameP = 0.001

// modeCount is a row of clinician_modes.
type modeCount struct {
	clinician, quantity string
	n, atMode, atOne    int64
	distinct            int64
	wholes, halves      int64
	mode                float64
}

// step is the unit a clinician writes millimetres to: the coarsest of 1, 0.5 and
// 0.1 mm that at least nine of ten values stand on, so that a stray tenth does not
// make whole millimetres look finer than they are.
func (m modeCount) step() float64 {
	switch {
	case 10*m.wholes >= 9*m.n:
		return 1
	case 10*m.halves >= 9*m.n:
		return 0.5
	}
	return 0.1
}

// normalCells returns the chances of the values that a normal law with the given SD
// puts on a grid of that step, its mean lying on a value (shift 0) or between two
// (shift 0.5). Chances below 1e-9 are left out. sd and step are above 0.
func normalCells(sd, step, shift float64) []float64 {
	var out []float64
	for _, way := range []float64{1, -1} {
		for i := 0; ; i++ {
			at := way * (float64(i) + shift)
			if way < 0 && shift == 0 {
				at-- // the middle cell is there already
			}
			low, _ := stats.NormalTails((math.Abs(at) - 0.5) * step / sd)
			high, _ := stats.NormalTails((math.Abs(at) + 0.5) * step / sd)
			if high-low < 1e-9 {
				break
			}
			out = append(out, high-low)
		}
	}
	return out
}

// modeChance bounds the chance that any one of the values comes up at least k times
// in n draws: the sum over the values of the binomial chances, at most 1
// (Bonferroni's inequality).
func modeChance(k, n int64, cells []float64) (float64, error) {
	var sum float64
	for _, p := range cells {
		_, above, err := stats.BinomialCDF(k-1, n, p)
		if err != nil {
			return math.NaN(), err
		}
		sum += above
	}
	return math.Min(1, sum), nil
}

// freewayChance is the chance of a mode like that if every patient had the same
// freeway space and two readings with that SD (mm) were subtracted, at the worst
// place of that space on the clinician's grid; and the largest share, in [0,1], that
// one value would then have.
func freewayChance(m modeCount, readingSD float64) (p, expected float64, err error) {
	sd := math.Sqrt2 * readingSD
	for _, shift := range []float64{0, 0.5} {
		cells := normalCells(sd, m.step(), shift)
		q, err := modeChance(m.atMode, m.n, cells)
		if err != nil {
			return math.NaN(), math.NaN(), err
		}
		p, expected = math.Max(p, q), math.Max(expected, cells[0])
	}
	return p, expected, nil
}

// sameVerdict grades one share. Without an expectation p is NaN.
func sameVerdict(share, p float64, s Settings) string {
	switch {
	case math.IsNaN(p):
		return CannotTell
	case p >= sameP:
		return AsExpected
	case share >= s.SameShare:
		return NearlyAlways
	}
	return MoreAlike
}

// modeTable is clinician_modes by quantity and clinician.
type modeTable map[string]map[string]modeCount

func (q *asker) modes(ctx context.Context) (modeTable, []string, error) {
	out := modeTable{}
	var clinicians []string
	err := q.each(ctx, "clinician_modes", func(rows *sql.Rows) error {
		var m modeCount
		if err := rows.Scan(&m.clinician, &m.quantity, &m.n, &m.mode, &m.atMode, &m.atOne, &m.distinct, &m.wholes, &m.halves); err != nil {
			return err
		}
		if out[m.quantity] == nil {
			out[m.quantity] = map[string]modeCount{}
		}
		out[m.quantity][m.clinician] = m
		if len(clinicians) == 0 || clinicians[len(clinicians)-1] != m.clinician {
			clinicians = append(clinicians, m.clinician)
		}
		return nil
	})
	return out, clinicians, err
}

// sameValues judges every clinician for every clinician habit, habits in the order
// of the catalogue, clinicians in order.
func (q *asker) sameValues(ctx context.Context) ([]SameValue, error) {
	table, clinicians, err := q.modes(ctx)
	if err != nil {
		return nil, err
	}
	out := []SameValue{}
	for _, h := range habit.ClinicianHabits {
		for _, who := range clinicians {
			m, ok := table[h.Quantity][who]
			if !ok {
				continue
			}
			v, err := q.sameValue(h, m, table)
			if err != nil {
				return nil, err
			}
			out = append(out, v)
		}
	}
	return out, nil
}

func (q *asker) sameValue(h habit.ClinicianHabit, m modeCount, table modeTable) (SameValue, error) {
	unit := "% of cases"
	if h.Quantity == "tries" {
		unit = "% of dentures"
	}
	share, err := q.share(m.atMode, m.n, unit, "clinician_modes")
	if err != nil {
		return SameValue{}, err
	}
	v := SameValue{Habit: h.ID, Clinician: m.clinician, Value: Num(m.mode), Distinct: m.distinct, Share: share,
		Expected: Num(math.NaN()), P: Num(math.NaN()), Verdict: CannotTell}
	if share.TooFew != "" {
		return v, nil
	}
	p, expected, err := q.sameChance(h, m, table)
	if err != nil {
		return SameValue{}, err
	}
	v.P, v.Expected, v.Verdict = Num(p), Num(100*expected), sameVerdict(float64(m.atMode)/float64(m.n), p, q.s)
	return v, nil
}

// sameChance returns the chance of the mode and the expected share in [0,1] for the
// clinician habit's own rule, NaN where there is nothing to compare with.
func (q *asker) sameChance(h habit.ClinicianHabit, m modeCount, table modeTable) (p, expected float64, err error) {
	switch h.Quantity {
	case "freeway_mm":
		return freewayChance(m, q.s.ReadingSDMM)
	case "display_target_mm":
		lip := table["display_suggested_mm"][m.clinician]
		expected = float64(lip.atMode) / float64(lip.n)
		// Each value suggested to these patients could be the one; none is likelier than the largest.
		cells := make([]float64, lip.distinct)
		for i := range cells {
			cells[i] = expected
		}
		p, err = modeChance(m.atMode, m.n, cells)
		return p, expected, err
	}
	return firstTrayChance(m, table["tries"])
}

// firstTrayChance compares one clinician's first trays with those of all others. A
// clinician who mostly takes a later tray has nothing to be judged for.
func firstTrayChance(m modeCount, all map[string]modeCount) (p, expected float64, err error) {
	var first, n int64
	for who, o := range all {
		if who == m.clinician {
			continue
		}
		n, first = n+o.n, first+o.atOne
	}
	if n == 0 {
		return math.NaN(), math.NaN(), nil
	}
	expected = float64(first) / float64(n)
	if m.mode != 1 {
		return 1, expected, nil
	}
	p, err = modeChance(m.atMode, m.n, []float64{expected})
	return p, expected, err
}
