package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// Data and certified values of NIST's Statistical Reference Datasets, linear regression
// (https://www.itl.nist.gov/div898/strd), from memory; that the certified standard errors
// come out too says that the data are right.

// leastSquaresOn fits y by the basis that every model here is fitted in.
func leastSquaresOn(x []float64, y []float64, p int) (coef, se []float64, residualSD float64) {
	b := newBasis(x, orConstant(nil, len(y), 1), p)
	m, gamma := len(b.kept), make([]float64, len(b.kept))
	for i, v := range y {
		addScaled(gamma, v, b.q[i*m:])
	}
	squares := 0.0
	for i, v := range y {
		gap := v - dot(gamma, b.q[i*m:i*m+m])
		squares += gap * gap
	}
	residualSD = math.Sqrt(squares / float64(len(y)-m))
	for k := range m {
		row := b.rinv.RawRowView(k)
		coef = append(coef, dot(row, gamma))
		se = append(se, residualSD*math.Sqrt(dot(row, row)))
	}
	return coef, se, residualSD
}

func polynomial(x []float64, degree int) []float64 {
	var out []float64
	for _, v := range x {
		for k := range degree + 1 {
			out = append(out, math.Pow(v, float64(k)))
		}
	}
	return out
}

func TestBasisOnLongley(t *testing.T) {
	rows := [][]float64{
		{60323, 83.0, 234289, 2356, 1590, 107608, 1947}, {61122, 88.5, 259426, 2325, 1456, 108632, 1948},
		{60171, 88.2, 258054, 3682, 1616, 109773, 1949}, {61187, 89.5, 284599, 3351, 1650, 110929, 1950},
		{63221, 96.2, 328975, 2099, 3099, 112075, 1951}, {63639, 98.1, 346999, 1932, 3594, 113270, 1952},
		{64989, 99.0, 365385, 1870, 3547, 115094, 1953}, {63761, 100.0, 363112, 3578, 3350, 116219, 1954},
		{66019, 101.2, 397469, 2904, 3048, 117388, 1955}, {67857, 104.6, 419180, 2822, 2857, 118734, 1956},
		{68169, 108.4, 442769, 2936, 2798, 120445, 1957}, {66513, 110.8, 444546, 4681, 2637, 121950, 1958},
		{68655, 112.6, 482704, 3813, 2552, 123366, 1959}, {69564, 114.2, 502601, 3931, 2514, 125368, 1960},
		{69331, 115.7, 518173, 4806, 2572, 127852, 1961}, {70551, 116.9, 554894, 4007, 2827, 130081, 1962},
	}
	var x, y []float64
	for _, r := range rows {
		x, y = append(append(x, 1), r[1:]...), append(y, r[0])
	}
	coef, se, sd := leastSquaresOn(x, y, 7)
	requireVector(t, []float64{-3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683,
		-1.03322686717359, -0.0511041056535807, 1829.15146461355}, coef, 1e-9, "coef")
	requireVector(t, []float64{890420.383607373, 84.9149257747669, 0.0334910077722432, 0.488399681651699,
		0.214274163161675, 0.226073200069370, 455.478499142212}, se, 1e-9, "se")
	require.True(t, relative(sd, 304.854073561965, 1e-10))
}

// Wampler's polynomials of degree 5: the first two have no error, the third much.
func TestBasisOnWampler(t *testing.T) {
	var x, first, second []float64
	for i := range 21 {
		v := float64(i)
		a, b := 0.0, 0.0
		for k := range 6 {
			a, b = a+math.Pow(v, float64(k)), b+math.Pow(v/10, float64(k))
		}
		x, first, second = append(x, v), append(first, a), append(second, b)
	}
	design := polynomial(x, 5)
	coef, _, _ := leastSquaresOn(design, first, 6)
	requireVector(t, []float64{1, 1, 1, 1, 1, 1}, coef, 1e-8, "first")
	coef, _, _ = leastSquaresOn(design, second, 6)
	requireVector(t, []float64{1, .1, .01, .001, .0001, .00001}, coef, 1e-8, "second")
	third := []float64{760, -2042, 2111, -1684, 3888, 1858, 11379, 17560, 39287, 64382, 113159, 175108, 273291,
		400186, 581243, 811568, 1121004, 1506550, 2002767, 2611612, 3369180}
	coef, se, sd := leastSquaresOn(design, third, 6)
	requireVector(t, []float64{1, 1, 1, 1, 1, 1}, coef, 1e-7, "third")
	requireVector(t, []float64{2152.32624678170, 2363.55173469681, 779.343524331583, 101.475507550350,
		5.64566512170752, 0.112324854679312}, se, 1e-10, "se")
	require.True(t, relative(sd, 2360.14502379268, 1e-10))
}

// A parabola over millions: what SIMEX extrapolates with.
func TestLeastSquaresOnPontius(t *testing.T) {
	y := []float64{.11019, .21956, .32949, .43899, .54803, .65694, .76562, .87487, .98292, 1.09146, 1.20001, 1.30822, 1.41599,
		1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844, .11052, .22018, .32939, .43886, .54798, .65739, .76596,
		.87474, .98300, 1.09150, 1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829}
	var x []float64
	for i := range y {
		x = append(x, 150000*float64(1+i%20))
	}
	beta, residual := leastSquares(quadraticTerms, x, y)
	requireVector(t, []float64{0.673565789473684e-03, 0.732059160401003e-06, -0.316081871345029e-14}, beta, 1e-8, "coef")
	require.True(t, relative(math.Sqrt(residual/37), 0.205177424076185e-03, 1e-8))
}

// Filip (Filippelli) asks for a polynomial of degree 10 between -8.8 and -3.1: the last
// term lies within 1e-7 of the others. Like R's lm with its default tolerance, the fit
// does not reach the certified coefficients: it names the term and drops it. Written
// about the middle of the range, as splines and scaled columns here are, the same
// polynomial is fitted whole and leaves the certified residual.
func TestBasisOnFilip(t *testing.T) {
	y, x := filip()
	ones := orConstant(nil, len(y), 1)
	require.Equal(t, []int{10}, newBasis(polynomial(x, 10), ones, 11).aliased)
	var centred []float64
	for _, v := range x {
		centred = append(centred, (v+5.9)/2.9)
	}
	require.Empty(t, newBasis(polynomial(centred, 10), ones, 11).aliased)
	coef, _, sd := leastSquaresOn(polynomial(centred, 10), y, 11)
	require.True(t, relative(sd, 0.00334801051324544, 1e-8), "%g", sd)
	// The leading coefficient is the certified one in units of 2.9.
	require.True(t, relative(coef[10]/math.Pow(2.9, 10), -0.402962525080404e-04, 1e-6), "%g", coef[10]/math.Pow(2.9, 10))
}

// filip is the data as copies of NIST's file have it.
func filip() (y, x []float64) {
	y = []float64{.8116, .9072, .9052, .9039, .8053, .8377, .8667, .8809, .7975, .8162, .8515, .8766, .8885, .8859, .8959, .8913, .8959,
		.8971, .9021, .9090, .9139, .9199, .8692, .8872, .8900, .8910, .8977, .9035, .9078, .7675, .7705, .7713, .7736, .7775, .7841,
		.7971, .8329, .8641, .8804, .7668, .7633, .7678, .7697, .7700, .7749, .7796, .7897, .8131, .8498, .8741, .8061, .8460, .8751,
		.8856, .8919, .8934, .8940, .8957, .9047, .9129, .9209, .9219, .7739, .7681, .7665, .7703, .7702, .7761, .7809, .7961, .8253,
		.8602, .8809, .8301, .8664, .8834, .8898, .8964, .8963, .9074, .9119, .9228}
	x = []float64{-6.860120914, -4.324130045, -4.358625055, -4.358426747, -6.955852379, -6.661145254, -6.355462942, -6.118102026,
		-7.115148017, -6.815308569, -6.519993057, -6.204119983, -5.853871964, -6.109523091, -5.79832982, -5.482672118, -5.171791386,
		-4.851705903, -4.517126416, -4.143573228, -3.709075441, -3.499489089, -6.300769497, -5.953504836, -5.642065153, -5.031376979,
		-4.680685696, -4.329846955, -3.928486195, -8.56735134, -8.363211311, -8.107682739, -7.823908741, -7.522878745, -7.218819279,
		-6.920818754, -6.628932138, -6.323946875, -5.991399828, -8.781464495, -8.663140179, -8.473531488, -8.247337057, -7.971428747,
		-7.676129393, -7.352812702, -7.072065318, -6.774174009, -6.478861916, -6.159517513, -6.835647144, -6.53165267, -6.224098421,
		-5.910094889, -5.598599459, -5.290645224, -4.974284616, -4.64454848, -4.290560426, -3.885055584, -3.408378962, -3.13200249,
		-8.726767166, -8.66695597, -8.511026475, -8.165388579, -7.886056648, -7.588043762, -7.283412422, -6.995678626, -6.691862621,
		-6.392544977, -6.067374056, -6.684029655, -6.378719832, -6.065855188, -5.752272167, -5.132414673, -4.811352704, -4.098269308,
		-3.66174277, -3.2644011}
	return y, x
}
