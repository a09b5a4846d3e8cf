package review

import (
	"fmt"
	"math"
	"slices"

	"afterfit/internal/stats"
)

// counted is an outcome that case mix is taken out of.
type counted struct {
	outcome string
	days    int
	once    bool
}

func (q *asker) counted() []counted {
	return []counted{
		{Adjustments, q.s.AdjustmentDays, false},
		{SoreSpots, q.s.SoreDays, false},
		{Remake, q.s.RemakeDays, true},
		{Display, q.s.ComplaintDays, true},
		{Vertical, q.s.ComplaintDays, true},
	}
}

// mixTerms are the characteristics of a case-mix model, in the order of patterns. Ridge and prior denture come before course, which is nearly a function
// of the latter, so that it is course that gives way.
var mixTerms = []string{"arch", "ridge_class", "age_band", "sex", "prior_denture", "course", "operator"}

const (
	mixFolds = 5
	// A level has a coefficient of its own from 30 dentures and 10 events on: fewer
	// than ten events per coefficient make Poisson models unstable (Peduzzi 1996, J
	// Clin Epidemiol 49:1373, for logistic ones).
	levelDentures, mixLevelEvents = 30, 10
	otherLevel                    = "other"
)

// mixCell counts the dentures of a pattern that had as many events. Whole is followed to
// the end of the window, or to an outcome that counts once; share is in billionths, summed.
type mixCell struct {
	pattern, fold int
	whole         bool
	y, n, share   int64
}

// mixData is what every outcome's model shares: the levels of each pattern, whether the
// operator belongs to the case mix, and where each denture stands.
type mixData struct {
	levels   [][]string // by pattern from 0, in the order of mixTerms
	operator bool
	first    string
	last     string

	d       *dentures
	units   []*codes    // the columns of sites, clinicians and laboratories, in the order of unitDimensions
	pattern []int32     // by denture
	cell    []int32     // by denture: its combination of site, clinician, laboratory and period
	cells   []mixPlace  // by cell
	places  []mixPeriod // in the order of sites and periods
}

// chooseLevels counts each term's levels and says as which each is counted: the
// commonest is the reference, a rare one joins "other", and an "other" that stays rare
// joins the reference.
func chooseLevels(d *mixData, cells []mixCell) []MixTerm {
	var terms []MixTerm
	for i, name := range mixTerms {
		if name == "operator" && !d.operator {
			continue
		}
		at := map[string]int{}
		t := MixTerm{Name: name}
		for _, c := range cells {
			level := d.levels[c.pattern][i]
			j, ok := at[level]
			if !ok {
				j = len(t.Levels)
				at[level] = j
				t.Levels = append(t.Levels, MixLevel{Level: level, As: level})
			}
			t.Levels[j].N += c.n
			t.Levels[j].Events += c.y * c.n
		}
		slices.SortFunc(t.Levels, func(a, b MixLevel) int {
			if a.N != b.N {
				return int(b.N - a.N)
			}
			if a.Level < b.Level {
				return -1
			}
			return 1
		})
		mergeRare(&t)
		terms = append(terms, t)
	}
	return terms
}

func mergeRare(t *MixTerm) {
	var n, events int64
	rare := []int{}
	for i := 1; i < len(t.Levels); i++ {
		if l := t.Levels[i]; l.N < levelDentures || l.Events < mixLevelEvents {
			n, events, rare = n+l.N, events+l.Events, append(rare, i)
		}
	}
	as := otherLevel
	if n < levelDentures || events < mixLevelEvents {
		as = t.Levels[0].Level
	}
	for _, i := range rare {
		t.Levels[i].As = as
	}
}

// columns are the design's columns but the intercept: term and level, reference left out.
func columns(terms []MixTerm) (names []string, at map[[2]string]int) {
	at = map[[2]string]int{}
	for _, t := range terms {
		for _, l := range t.Levels {
			if k := [2]string{t.Name, l.As}; l.As != t.Levels[0].Level {
				if _, ok := at[k]; !ok {
					at[k] = len(names)
					names = append(names, t.Name+"="+l.As)
				}
			}
		}
	}
	return names, at
}

// design gives for each pattern the columns that are 1, the intercept not counted.
func (d *mixData) design(terms []MixTerm, at map[[2]string]int) [][]int {
	out := make([][]int, len(d.levels))
	for _, t := range terms {
		i := slices.Index(mixTerms, t.Name)
		as := map[string]string{}
		for _, l := range t.Levels {
			as[l.Level] = l.As
		}
		for p, levels := range d.levels {
			if j, ok := at[[2]string{t.Name, as[levels[i]]}]; ok {
				out[p] = append(out[p], j)
			}
		}
	}
	return out
}

// fitCaseMix fits the Poisson model on pattern totals: with a log link and the shares as
// exposure, rows of one pattern count as one. Columns that follow from those before
// them, or that have run off to infinity, have coefficient 0 and are named in dropped.
func fitCaseMix(names []string, design [][]int, y, share []float64) (coef []float64, dropped []string, err error) {
	data := stats.Patterns{Names: append([]string{"intercept"}, names...)}
	for p, on := range design {
		if share[p] == 0 {
			continue
		}
		row := make([]float64, len(data.Names))
		row[0] = 1
		for _, j := range on {
			row[j+1] = 1
		}
		data.X = append(data.X, row...)
		data.Y = append(data.Y, y[p])
		data.Offset = append(data.Offset, math.Log(share[p]))
	}
	fit, err := stats.FitGLM(stats.Poisson, data)
	if err != nil {
		return nil, nil, err
	}
	dropped = append(slices.Clone(fit.Aliased), fit.Separated...)
	coef = slices.Clone(fit.Coef)
	for i, name := range fit.Names {
		if math.IsNaN(coef[i]) || slices.Contains(fit.Separated, name) {
			coef[i] = 0
		}
	}
	return coef, dropped, nil
}

// sums adds cells up by pattern, those of one fold left out (none for -1).
func sums(cells []mixCell, patterns, without int) (y, share []float64) {
	y, share = make([]float64, patterns), make([]float64, patterns)
	for _, c := range cells {
		if c.fold != without {
			y[c.pattern] += float64(c.y * c.n)
			share[c.pattern] += float64(c.share) / 1e9
		}
	}
	return y, share
}

// rates are the events expected in the whole window by pattern.
func rates(coef []float64, design [][]int) []float64 {
	out := make([]float64, len(design))
	for p, on := range design {
		eta := coef[0]
		for _, j := range on {
			eta += coef[j+1]
		}
		out[p] = math.Exp(eta)
	}
	return out
}

// ownModel fits the model on the store's own data. folds hold, by fold, the rates
// predicted for it from the other folds, by plain fits.
func (d *mixData) ownModel(c counted, cells []mixCell) (m MixModel, folds [][]float64, notes []string, err error) {
	m = MixModel{Outcome: c.outcome, Days: c.days, First: d.first, Last: d.last, Shrink: 1, Terms: chooseLevels(d, cells)}
	names, at := columns(m.Terms)
	design := d.design(m.Terms, at)
	y, share := sums(cells, len(d.levels), -1)
	coef, dropped, err := fitCaseMix(names, design, y, share)
	if err != nil {
		return m, nil, nil, fmt.Errorf("case mix of %s: %w", c.outcome, err)
	}
	for _, cell := range cells {
		m.N, m.Events = m.N+cell.n, m.Events+cell.y*cell.n
	}
	m.Intercept = Num(coef[0])
	for i := range m.Terms {
		for j := range m.Terms[i].Levels {
			l := &m.Terms[i].Levels[j]
			if k, ok := at[[2]string{m.Terms[i].Name, l.As}]; ok {
				l.Coef = Num(coef[k+1])
			}
		}
	}
	folds = make([][]float64, mixFolds)
	for f := range folds {
		y, share := sums(cells, len(d.levels), f)
		part, _, err := fitCaseMix(names, design, y, share)
		if err != nil { // too few elsewhere: the fit on all stands in
			part = coef
		}
		folds[f] = rates(part, design)
	}
	return m, folds, notesOf(m, dropped, d.operator), nil
}

// pullIn multiplies the coefficients by a factor and sets the intercept so that the
// model still expects as many events as there were.
func (d *mixData) pullIn(m *MixModel, cells []mixCell, factor float64) {
	m.Shrink = Num(factor)
	for i := range m.Terms {
		for j := range m.Terms[i].Levels {
			m.Terms[i].Levels[j].Coef *= Num(factor)
		}
	}
	rates, _ := d.predict(*m, cells)
	_, share := sums(cells, len(d.levels), -1)
	expected := 0.0
	for p, r := range rates {
		expected += r * share[p]
	}
	m.Intercept += Num(math.Log(float64(m.Events) / expected))
}

// predict are the rates of each pattern by a model, with what it did not know.
func (d *mixData) predict(m MixModel, cells []mixCell) ([]float64, []string) {
	dentures := make([]int64, len(d.levels))
	for _, c := range cells {
		dentures[c.pattern] += c.n
	}
	out := make([]float64, len(d.levels))
	for p := range out {
		out[p] = float64(m.Intercept)
	}
	var notes []string
	for _, t := range m.Terms {
		i := slices.Index(mixTerms, t.Name)
		if i < 0 || len(t.Levels) == 0 {
			continue
		}
		coef, unknown := map[string]float64{}, map[string]int64{}
		as, other := t.Levels[0].Level, 0.0
		for _, l := range t.Levels {
			coef[l.Level] = float64(l.Coef)
			if l.As == otherLevel {
				as, other = otherLevel, float64(l.Coef)
			}
		}
		for p, levels := range d.levels {
			b, ok := coef[levels[i]]
			if !ok {
				b = other
				unknown[levels[i]] += dentures[p]
			}
			out[p] += b
		}
		for _, level := range sortedKeys(unknown) {
			notes = append(notes, fmt.Sprintf("The standard does not know %s “%s” (%d dentures): counted as “%s”.", t.Name, level, unknown[level], as))
		}
	}
	for p := range out {
		out[p] = math.Exp(out[p])
	}
	return out, notes
}

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// notesOf says what the model leaves out.
func notesOf(m MixModel, dropped []string, operator bool) []string {
	notes := []string{}
	for _, t := range m.Terms {
		for _, l := range t.Levels {
			if l.As != l.Level {
				notes = append(notes, fmt.Sprintf("%s “%s” (%d dentures, %d events) is too rare and counted as “%s”.", t.Name, l.Level, l.N, l.Events, l.As))
			}
		}
	}
	for _, name := range dropped {
		notes = append(notes, fmt.Sprintf("%s is left out: it follows from the other characteristics, or no event was seen with it.", name))
	}
	if !operator {
		notes = append(notes, "The kind of operator is left out: most clinicians have one kind only, so it would take out the clinician.")
	}
	return notes
}
