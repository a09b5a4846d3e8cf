package review

import (
	"encoding/binary"
	"math"
	"slices"

	"afterfit/internal/stats"
)

// mixPattern counts the dentures of one combination of case mix, arch and habit.
// Side is 0 without the habit, 1 with it, -1 where it cannot be assessed.
type mixPattern struct {
	mix         int // from 1; 0 where the habit cannot be assessed
	upper       bool
	side        int
	n, share, y int64 // share in billionths
	shared      int64 // the share of those with an event, where the habit cannot be assessed
}

// mixFit is the case-mix model of one pair. Base is events per share in lower [0] and upper
// [1] dentures of the commonest mix without the habit.
type mixFit struct {
	logRatio, model float64  // model is the variance if events follow a Poisson law
	ways            []mixWay // by mix and arch, numbered as in mixSet
	base            [2]float64
	bands           int
	kept            []string // columns with more than one level left
}

// mixWay is what the model says of a mix in one arch: what it lets expect relative to the
// commonest mix, the share with the habit that it lets expect, and the mix's band. They
// stand side by side, since a walk along dentures needs them all at once.
type mixWay struct {
	rate, lean float64
	band       int
}

// mixBands is the most bands of expected trouble; with five, stratification takes out
// over 90 % of the bias of one variable (Cochran 1968, Biometrics 24:295). A
// stratum of one clinician, arch and band should hold bandDentures on average.
const (
	mixBands     = 5
	bandDentures = 20
	levelN       = 50 // dentures that a level of case mix needs to stand alone
	levelEvents  = 5  // and events, times the number of columns, so that a model has five or more for each coefficient
)

// rareLevel gathers the levels that are too few to stand alone.
const rareLevel = "(few)"

// designColumn says what each level of a column of case mix becomes in the model: -1
// is the reference, otherwise the number of a 0/1 column.
type designColumn struct {
	to    []int
	names []string
}

// mergeLevels decides for a column of case mix which levels stand alone: those with
// dentures and events enough. The others are gathered, or join the most common level,
// the reference, where together they are still few.
func (c coding) mergeLevels(k int, patterns []mixPattern, columns int) designColumn {
	n, events := make([]int64, len(c.names[k])), make([]int64, len(c.names[k]))
	for _, p := range patterns {
		if p.side >= 0 {
			level := c.of[p.mix-1][k]
			n[level], events[level] = n[level]+p.n, events[level]+p.y
		}
	}
	most := 0
	for i := range n {
		if n[i] > n[most] {
			most = i
		}
	}
	few := func(n, events int64) bool { return n < levelN || events < int64(levelEvents*columns) }
	out, fewN, fewEvents := designColumn{to: make([]int, len(n))}, int64(0), int64(0)
	for i := range n {
		if i != most && few(n[i], events[i]) {
			fewN, fewEvents = fewN+n[i], fewEvents+events[i]
		}
	}
	for i := range n {
		switch {
		case i == most || few(n[i], events[i]):
			out.to[i] = -1
		default:
			out.to[i], out.names = len(out.names), append(out.names, c.names[k][i])
		}
	}
	if few(fewN, fewEvents) {
		return out
	}
	for i := range n {
		if i != most && few(n[i], events[i]) {
			out.to[i] = len(out.names)
		}
	}
	out.names = append(out.names, rareLevel)
	return out
}

// design names the columns of a model behind its first ones, gives those that are 1 by
// mix, and the columns of case mix that have more than one level left.
func (c coding) design(patterns []mixPattern, columns []string, first ...string) (names []string, marks [][]int, kept []string) {
	names, marks = first, make([][]int, len(c.of))
	for k, column := range columns {
		d := c.mergeLevels(k, patterns, len(columns))
		for i, levels := range c.of {
			if to := d.to[levels[k]]; to >= 0 {
				marks[i] = append(marks[i], len(names)+to)
			}
		}
		for _, l := range d.names {
			names = append(names, column+"="+l)
		}
		if len(d.names) > 0 {
			kept = append(kept, column)
		}
	}
	return names, marks, kept
}

// fitMix fits events by habit, arch and case mix as a Poisson model with the share
// due as exposure. Dentures that cannot be assessed take no part.
func fitMix(patterns []mixPattern, mixes coding, columns []string, bands int) (*mixFit, error) {
	fit := &mixFit{bands: bands}
	names, marks, kept := mixes.design(patterns, columns, "one", "habit", "upper")
	fit.kept = kept
	rows := gatherPatterns(patterns, marks)
	data := stats.Patterns{Names: names, X: make([]float64, len(rows)*len(names))}
	for i, g := range rows {
		row := data.X[i*len(names):][:len(names)]
		row[0], row[1], row[2] = 1, float64(g.side), bit(g.upper)
		for _, j := range g.marks {
			row[j] = 1
		}
		data.Y, data.Offset = append(data.Y, float64(g.y)), append(data.Offset, math.Log(float64(g.share)/1e9))
	}
	model, err := stats.FitGLM(stats.Poisson, data)
	if err != nil {
		return nil, err
	}
	fit.read(model, marks)
	fit.cutBands(patterns)
	return fit, nil
}

func bit(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// gathered is a pattern after levels were merged.
type gathered struct {
	marks    []int
	side     int
	upper    bool
	y, share int64
}

// gatherPatterns sums the patterns that have become alike, in the order in which they
// first come.
func gatherPatterns(patterns []mixPattern, marks [][]int) []*gathered {
	by := map[string]*gathered{}
	var out []*gathered
	var key []byte
	for _, p := range patterns {
		if p.side < 0 {
			continue
		}
		key = append(key[:0], byte(p.side), byte(bit(p.upper)))
		for _, j := range marks[p.mix-1] {
			key = binary.AppendUvarint(key, uint64(j))
		}
		g := by[string(key)]
		if g == nil {
			g = &gathered{marks: marks[p.mix-1], side: p.side, upper: p.upper}
			by[string(key)], out = g, append(out, g)
		}
		g.y, g.share = g.y+p.y, g.share+p.share
	}
	return out
}

// read takes from the model what later steps need. The share with the habit that a mix
// lets expect is the projection of the habit on the other columns, weighted by fitted
// events, which a row of the inverse information holds: with it the score for the
// ratio allows for the other coefficients' being estimated.
func (f *mixFit) read(model *stats.Fit, marks [][]int) {
	cov := model.ModelCovariance().Matrix
	f.logRatio, f.model = model.Coef[1], cov.At(1, 1)
	coef := func(j int) float64 {
		if math.IsNaN(model.Coef[j]) {
			return 0 // a combination of the columns before it
		}
		return model.Coef[j]
	}
	f.base = [2]float64{math.Exp(coef(0)), math.Exp(coef(0) + coef(2))}
	f.ways = make([]mixWay, 2*len(marks))
	for i, m := range marks {
		score, lean := 0.0, cov.At(1, 0)
		for _, j := range m {
			score += coef(j)
			lean += cov.At(1, j)
		}
		rate := math.Exp(score)
		f.ways[2*i] = mixWay{rate: rate, lean: -lean / f.model}
		f.ways[2*i+1] = mixWay{rate: rate, lean: -(lean + cov.At(1, 2)) / f.model}
	}
}

// cutBands cuts the mixes by expected trouble into bands of about as many dentures.
func (f *mixFit) cutBands(patterns []mixPattern) {
	n, total := make([]int64, len(f.ways)/2), int64(0)
	for _, p := range patterns {
		if p.side >= 0 {
			n[p.mix-1] += p.n
			total += p.n
		}
	}
	order := make([]int, len(n))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case f.ways[2*a].rate < f.ways[2*b].rate:
			return -1
		case f.ways[2*a].rate > f.ways[2*b].rate:
			return 1
		}
		return a - b
	})
	before := int64(0)
	for _, i := range order {
		band := min(f.bands-1, int(int64(f.bands)*(2*before+n[i])/(2*max(total, 1))))
		f.ways[2*i].band, f.ways[2*i+1].band = band, band
		before += n[i]
	}
}
