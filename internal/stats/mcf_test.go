package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

type mcfReference struct {
	Times    []int
	Patients []struct {
		Center, End int
		Events      []int
	}
	Mean, Risk []float64
	SEID       []float64 `json:"se_id"`
	SECenter   []float64 `json:"se_center"`
	SEModel    []float64 `json:"se_model"`
	Seats      struct {
		Engines []struct {
			End    int
			Events []int
		}
		Days     []int
		Mean, SE []float64
	}
}

// signatureCounts lists the days of clusters for MeanCumulative.
func signatureCounts(clusters []ClusterSignature) (ends, events []DayCount) {
	for _, c := range clusters {
		for _, d := range c.Ends {
			ends = append(ends, DayCount{d, c.N})
		}
		for _, d := range c.Events {
			events = append(events, DayCount{d, c.N})
		}
	}
	return ends, events
}

func TestMCFAgreesWithR(t *testing.T) {
	var ref mcfReference
	loadReference(t, "mcf", &ref)
	var patients []ClusterSignature
	centers := map[int]*ClusterSignature{}
	for _, p := range ref.Patients {
		patients = append(patients, ClusterSignature{[]int{p.End}, p.Events, 1})
		if centers[p.Center] == nil {
			centers[p.Center] = &ClusterSignature{N: 1}
		}
		c := centers[p.Center]
		c.Ends, c.Events = append(c.Ends, p.End), append(c.Events, p.Events...)
	}
	var byCenter []ClusterSignature
	for _, c := range centers {
		byCenter = append(byCenter, *c)
	}
	m, err := MeanCumulative(signatureCounts(patients))
	require.NoError(t, err)
	require.NotEmpty(t, ref.Times)
	for i, day := range ref.Times {
		row, warnings, err := m.At(day)
		require.NoError(t, err)
		require.Empty(t, warnings)
		requireRelative(t, ref.Mean[i], row.Mean, day)
		require.Equal(t, int64(ref.Risk[i]), row.AtRisk)
		requireRelative(t, ref.SEModel[i], math.Sqrt(row.Variance), day)
		// R leaves out the factor G/(G-1).
		for _, c := range []struct {
			clusters []ClusterSignature
			want     float64
		}{{patients, ref.SEID[i]}, {byCenter, ref.SECenter[i]}} {
			r, err := m.RobustVariance(day, c.clusters)
			require.NoError(t, err)
			g := float64(r.Clusters)
			requireRelative(t, c.want, math.Sqrt(r.Variance*(g-1)/g), day)
			require.Equal(t, g < 30, len(r.Warnings) == 1)
		}
	}
}

// Valve seats of 41 diesel engines, Nelson 1995: the means and standard errors printed
// with three decimals in manuals that work the example are from memory. mcf.R has the
// same from survival, without the factor G/(G-1).
func TestMCFOfPublishedValveSeats(t *testing.T) {
	var ref mcfReference
	loadReference(t, "mcf", &ref)
	seats := ref.Seats
	var engines []ClusterSignature
	for _, e := range seats.Engines {
		engines = append(engines, ClusterSignature{[]int{e.End}, e.Events, 1})
	}
	require.Len(t, engines, 41)
	m, err := MeanCumulative(signatureCounts(engines))
	require.NoError(t, err)
	printed := [][2]float64{{.024, .024}, {.049, .034}, {.073, .041}, {.098, .047}, {.122, .052}, {.146, .056}}
	for i, day := range seats.Days {
		row, _, err := m.At(day)
		require.NoError(t, err)
		r, err := m.RobustVariance(day, engines)
		require.NoError(t, err)
		se := math.Sqrt(r.Variance)
		requireRelative(t, seats.Mean[i], row.Mean, day)
		requireRelative(t, seats.SE[i], se*math.Sqrt(40.0/41), day)
		if i < len(printed) {
			require.InDelta(t, printed[i][0], row.Mean, 5.01e-4, "day %d", day)
			require.InDelta(t, printed[i][1], se, 5.01e-4, "day %d", day)
		}
	}
}

func drawClusters(t *rapid.T) []ClusterSignature {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) ClusterSignature {
		c := ClusterSignature{N: rapid.Int64Range(1, 3).Draw(t, "n")}
		for range rapid.IntRange(1, 2).Draw(t, "subjects") {
			end := rapid.IntRange(0, 9).Draw(t, "end")
			c.Ends = append(c.Ends, end)
			c.Events = append(c.Events, rapid.SliceOfN(rapid.IntRange(0, end), 0, 3).Draw(t, "events")...)
		}
		return c
	}), 2, 8).Draw(t, "clusters")
}

func TestMCFAgainstNumericalDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		clusters := drawClusters(t)
		day := rapid.IntRange(0, 9).Draw(t, "day")
		m, err := MeanCumulative(signatureCounts(clusters))
		if err != nil {
			t.Fatal(err)
		}
		got, err := m.RobustVariance(day, clusters)
		if err != nil {
			t.Fatal(err)
		}
		split := []ClusterSignature{}
		for _, c := range rapid.Permutation(clusters).Draw(t, "order") {
			for range c.N {
				split = append(split, ClusterSignature{c.Ends, c.Events, 1})
			}
		}
		again, err := m.RobustVariance(day, split)
		if err != nil || !almost(again.Variance, got.Variance, 1e-12) || again.Clusters != got.Clusters {
			t.Fatalf("%v, split %v (%v)", got, again, err)
		}
		mean, slow := slowMCF(split, day)
		row, _, err := m.At(day)
		if err != nil || !almost(row.Mean, mean, 1e-12) {
			t.Fatalf("mean %g, slowly %g (%v)", row.Mean, mean, err)
		}
		if g := float64(len(split)); !almost(got.Variance, slow*g/(g-1), 1e-7) {
			t.Fatalf("variance %g, by derivatives %g", got.Variance, slow*g/(g-1))
		}
		iv, err := row.Limits(got.Variance, 0.95)
		if err != nil || iv.Low > row.Mean || iv.High < row.Mean {
			t.Fatalf("%v does not hold %g (%v)", iv, row.Mean, err)
		}
	})
}

// slowMCF computes the mean with a weight for each cluster, and the sum of its squared
// derivatives by those weights.
func slowMCF(clusters []ClusterSignature, t int) (mean, squares float64) {
	weights := make([]float64, len(clusters))
	for i := range weights {
		weights[i] = 1
	}
	estimate := func() float64 {
		total := 0.0
		for day := 0; day <= t; day++ {
			risk, events := 0.0, 0.0
			for i, c := range clusters {
				for _, end := range c.Ends {
					if end >= day {
						risk += weights[i]
					}
				}
				for _, e := range c.Events {
					if e == day {
						events += weights[i]
					}
				}
			}
			if risk > 0 {
				total += events / risk
			}
		}
		return total
	}
	mean = estimate()
	for i := range clusters {
		const step = 1e-5
		weights[i] = 1 + step
		up := estimate()
		weights[i] = 1 - step
		slope := (up - estimate()) / (2 * step)
		weights[i] = 1
		squares += slope * slope
	}
	return mean, squares
}

func TestMCFOnSmallAndHostileInput(t *testing.T) {
	m, err := MeanCumulative([]DayCount{{0, 1}, {2, 1}}, []DayCount{{0, 2}, {2, 1}})
	require.NoError(t, err)
	row, _, err := m.At(0)
	require.NoError(t, err)
	require.Equal(t, 1.0, row.Mean) // two events on day 0 among two subjects
	row, warnings, err := m.At(7)
	require.NoError(t, err)
	require.Len(t, warnings, 1)
	require.Equal(t, 2.0, row.Mean) // one more on the end day of the one who is left
	_, err = MeanCumulative(nil, []DayCount{{1, 1}})
	require.ErrorIs(t, err, ErrNoData)
	for _, events := range [][]DayCount{{{3, 1}}, {{-1, 1}}, {{1, -1}}} {
		_, err = MeanCumulative([]DayCount{{2, 5}}, events)
		require.ErrorIs(t, err, ErrBadInput)
	}
	_, err = MeanCumulative([]DayCount{{maxDay + 1, 5}}, nil)
	require.ErrorIs(t, err, ErrBadInput)
	_, err = m.RobustVariance(1, []ClusterSignature{{[]int{0, 2}, []int{0, 0, 1}, 1}})
	require.ErrorIs(t, err, ErrBadInput, "clusters that are not those of the curve")
	_, err = m.RobustVariance(1, []ClusterSignature{{[]int{0, 2}, []int{0, 0, 2}, 1}})
	require.ErrorIs(t, err, ErrNoData, "a single cluster")
	_, err = RobustFromSquares(math.NaN(), 50)
	require.ErrorIs(t, err, ErrBadInput)
	none, err := MeanCumulative([]DayCount{{4, 20}}, nil)
	require.NoError(t, err)
	row, _, err = none.At(4)
	require.NoError(t, err)
	iv, err := row.Limits(0, 0.95)
	require.NoError(t, err)
	require.InDelta(t, 3.689/20, iv.High, 1e-4)
}

// The tables, joined by hand as a database would, and the squares' way in must give what
// RobustVariance gives: three engines, the second with two repairs.
func TestRiskTablesJoinAsTheVarianceDoes(t *testing.T) {
	engines := []ClusterSignature{{[]int{5}, []int{2}, 1}, {[]int{7}, []int{2, 6}, 1}, {[]int{9}, nil, 1}}
	m, err := MeanCumulative(signatureCounts(engines))
	require.NoError(t, err)
	table, err := m.RiskTables(7)
	require.NoError(t, err)
	require.Len(t, table, 8)
	require.InDelta(t, 1.0/3, table[2].InverseRisk, 1e-15)
	require.InDelta(t, 1.0/2, table[6].InverseRisk, 1e-15)
	// H adds (events/risk)/risk: 2/9 at day 2, 1/4 more at day 6.
	require.InDelta(t, 2.0/9, table[5].H, 1e-15)
	require.InDelta(t, 2.0/9+1.0/4, table[7].H, 1e-15)
	a := []float64{1.0/3 - table[5].H, 1.0/3 + 1.0/2 - table[7].H, -table[7].H}
	byHand, err := RobustFromSquares(dot(a, a), 3)
	require.NoError(t, err)
	got, err := m.RobustVariance(7, engines)
	require.NoError(t, err)
	require.True(t, relative(got.Variance, byHand.Variance, 1e-14), "%g %g", got.Variance, byHand.Variance)
	require.Equal(t, byHand.Warnings, got.Warnings)
	_, err = m.RiskTables(-1)
	require.ErrorIs(t, err, ErrBadInput)
}
