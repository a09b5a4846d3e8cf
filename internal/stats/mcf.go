package stats

import (
	"fmt"
	"math"
	"sort"
)

// DayCount is how many subjects end follow-up, or how many events fall, on one day.
// Days are whole and count from 0; several rows may share a day.
type DayCount struct {
	Day int
	N   int64
}

// MCFRow is the mean cumulative function on one day.
type MCFRow struct {
	Day    int
	AtRisk int64 // subjects whose follow-up ends on this day or later
	Events int64
	// InverseRisk is 1/AtRisk.
	InverseRisk float64
	// Mean is the expected number of events per subject up to and including Day.
	Mean float64
	// Variance is that of Mean if events were a Poisson process, the sum of events/risk^2.
	// It is also the table H that RobustVariance uses.
	Variance float64
}

// MCF is the mean cumulative function of a recurrent event, one row a day from 0 to
// the last day of follow-up.
type MCF struct {
	Rows []MCFRow
}

// maxDay bounds the dense table of days (about 270 years).
const maxDay = 100_000

// MeanCumulative estimates the mean cumulative number of events per subject,
//
//	M(t) = sum over s <= t of dN(s)/Y(s),
//
// where a subject with follow-up end f is at risk on every day s <= f, day 0 and the
// end day included. An event after the last follow-up end is an error.
// References: Nelson 1988, J Qual Technol 20:24; Lawless & Nadeau 1995, Technometrics 37:158.
func MeanCumulative(ends, events []DayCount) (*MCF, error) {
	last := -1
	for _, e := range ends {
		if e.N > 0 {
			last = max(last, e.Day)
		}
	}
	if last < 0 {
		return nil, fmt.Errorf("no subject: %w", ErrNoData)
	}
	leaving, err := dense(ends, last, "follow-up end")
	if err != nil {
		return nil, err
	}
	falling, err := dense(events, last, "event")
	if err != nil {
		return nil, err
	}
	m := &MCF{Rows: make([]MCFRow, last+1)}
	var risk int64
	for day := last; day >= 0; day-- {
		risk += leaving[day]
		m.Rows[day] = MCFRow{Day: day, AtRisk: risk, Events: falling[day], InverseRisk: 1 / float64(risk)}
	}
	mean, variance := 0.0, 0.0
	for i := range m.Rows {
		r := &m.Rows[i]
		mean += float64(r.Events) * r.InverseRisk
		variance += float64(r.Events) * r.InverseRisk * r.InverseRisk
		r.Mean, r.Variance = mean, variance
	}
	return m, nil
}

// dense spreads day counts over a slice from day 0 to last.
func dense(counts []DayCount, last int, what string) ([]int64, error) {
	if last > maxDay {
		return nil, fmt.Errorf("%s on day %d, beyond %d: %w", what, last, maxDay, ErrBadInput)
	}
	out := make([]int64, last+1)
	var total int64
	for _, c := range counts {
		switch {
		case c.N < 0 || c.N > maxUnits:
			return nil, fmt.Errorf("%s count %d on day %d: %w", what, c.N, c.Day, ErrBadInput)
		case c.N == 0:
			continue
		case c.Day < 0 || c.Day > last:
			return nil, fmt.Errorf("%s on day %d, outside 0 to %d: %w", what, c.Day, last, ErrBadInput)
		}
		if total += c.N; total > maxUnits {
			return nil, fmt.Errorf("more than %d of %s: %w", maxUnits, what, ErrBadInput)
		}
		out[c.Day] += c.N
	}
	return out, nil
}

// At returns the row for day t. Beyond follow-up the last row comes back with a warning.
func (m *MCF) At(t int) (MCFRow, []Warning, error) {
	if t < 0 {
		return MCFRow{}, nil, fmt.Errorf("day %d: %w", t, ErrBadInput)
	}
	if last := len(m.Rows) - 1; t > last {
		return m.Rows[last], []Warning{beyondFollowUp(float64(t), float64(last))}, nil
	}
	return m.Rows[t], nil, nil
}

// ClusterSignature stands for N clusters that look alike: the follow-up ends of their
// subjects and the days of their events.
type ClusterSignature struct {
	Ends, Events []int
	N            int64
}

// RobustMCF is the cluster-robust variance of the mean cumulative function on one day.
type RobustMCF struct {
	Variance float64
	Clusters int64
	Warnings []Warning
}

// RobustVariance returns the variance of the mean up to day t that allows any dependence
// within a cluster and any overdispersion. For cluster c
//
//	A_c = sum over its events at s <= t of 1/Y(s) - sum over its subjects of H(min(f, t))
//
// with H(u) = sum over s <= u of dM(s)/Y(s), given by RiskTables; the variance is
// G/(G-1) times the sum of A_c^2 over the G clusters. A database can form A_c by joining
// events and subjects with that table and hand only the sum of squares to RobustFromSquares.
// Clusters must together be the ends and events that m was made from.
// Reference: Lawless & Nadeau 1995, Technometrics 37:158.
func (m *MCF) RobustVariance(t int, clusters []ClusterSignature) (RobustMCF, error) {
	table, err := m.RiskTables(t)
	if err != nil {
		return RobustMCF{}, err
	}
	if err := m.covers(clusters); err != nil {
		return RobustMCF{}, err
	}
	squares := make([]float64, 0, len(clusters))
	var groups int64
	for _, c := range clusters {
		a := 0.0
		for _, day := range sorted(c.Events) {
			if day <= t {
				a += table[day].InverseRisk
			}
		}
		for _, day := range sorted(c.Ends) {
			a -= table[min(day, len(table)-1)].H
		}
		squares = append(squares, a*a*float64(c.N))
		groups += c.N
	}
	// Adding in ascending order makes the sum independent of the order of clusters.
	sort.Float64s(squares)
	total := 0.0
	for _, s := range squares {
		total += s
	}
	return RobustFromSquares(total, groups)
}

func sorted(days []int) []int {
	out := append([]int(nil), days...)
	sort.Ints(out)
	return out
}

// covers checks that clusters hold the very days from which m was made.
func (m *MCF) covers(clusters []ClusterSignature) error {
	spare := make([]MCFRow, len(m.Rows))
	tally := func(days []int, n int64, column func(*MCFRow) *int64) error {
		for _, day := range days {
			if day < 0 || day >= len(spare) {
				return fmt.Errorf("day %d is outside follow-up: %w", day, ErrBadInput)
			}
			*column(&spare[day]) += n
		}
		return nil
	}
	for i, c := range clusters {
		if c.N < 0 || c.N > maxUnits {
			return fmt.Errorf("cluster %d stands for %d: %w", i, c.N, ErrBadInput)
		}
		if err := firstError(
			tally(c.Ends, c.N, func(r *MCFRow) *int64 { return &r.AtRisk }),
			tally(c.Events, c.N, func(r *MCFRow) *int64 { return &r.Events }),
		); err != nil {
			return err
		}
	}
	var risk int64
	for day := len(spare) - 1; day >= 0; day-- {
		risk += spare[day].AtRisk
		if risk != m.Rows[day].AtRisk || spare[day].Events != m.Rows[day].Events {
			return fmt.Errorf("clusters do not add up to the curve on day %d: %w", day, ErrBadInput)
		}
	}
	return nil
}

// RobustFromSquares turns the sum of A_c^2 over all clusters (see RobustVariance) into
// the variance. Fewer than 2 clusters are ErrNoData, fewer than 30 a warning.
func RobustFromSquares(sumSquares float64, clusters int64) (RobustMCF, error) {
	if !(sumSquares >= 0) || math.IsInf(sumSquares, 1) {
		return RobustMCF{}, fmt.Errorf("sum of squares %v: %w", sumSquares, ErrBadInput)
	}
	if clusters < 2 {
		return RobustMCF{}, fmt.Errorf("%d clusters give no variance: %w", clusters, ErrNoData)
	}
	g := float64(clusters)
	r := RobustMCF{Variance: sumSquares * g / (g - 1), Clusters: clusters}
	if clusters < 30 {
		r.Warnings = []Warning{{"few-clusters", fmt.Sprintf("Only %d clusters: the limits are too narrow. 30 or more would mend it.", clusters)}}
	}
	return r, nil
}

// RiskRow is one day of the tables that RobustVariance joins with.
type RiskRow struct {
	Day            int
	InverseRisk, H float64
}

// RiskTables returns 1/Y and H for the days 0 to t, or to the end of follow-up if that
// is earlier. A subject with follow-up end f takes H of day min(f, t).
func (m *MCF) RiskTables(t int) ([]RiskRow, error) {
	if t < 0 {
		return nil, fmt.Errorf("day %d: %w", t, ErrBadInput)
	}
	rows := m.Rows[:min(t+1, len(m.Rows))]
	out := make([]RiskRow, len(rows))
	for i, r := range rows {
		out[i] = RiskRow{Day: r.Day, InverseRisk: r.InverseRisk, H: r.Variance}
	}
	return out, nil
}

// Limits returns limits for the mean that are symmetric on the log scale, given its
// variance (robust or model). With no event so far they run from 0 to the exact Poisson
// limit for none among the subjects at risk on that day.
func (r MCFRow) Limits(variance, level float64) (Interval, error) {
	if !(variance >= 0) || math.IsInf(variance, 1) {
		return Interval{}, fmt.Errorf("variance %v: %w", variance, ErrBadInput)
	}
	if r.Mean == 0 {
		return PoissonExact(0, float64(r.AtRisk), level)
	}
	if err := checkLevel(level); err != nil {
		return Interval{}, err
	}
	half := intervalZ(level) * math.Sqrt(variance) / r.Mean
	return Interval{r.Mean * math.Exp(-half), r.Mean * math.Exp(half)}, nil
}
