package review

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"afterfit/internal/habit"
	"afterfit/internal/store"
	"afterfit/queries"
)

// ErrTooSmallToShare says that a store has too few people for a share form.
var ErrTooSmallToShare = fmt.Errorf("fewer than %d people have a delivered denture, so nothing can be shared", smallest)

// sharedDimensions are the cuts of a share form, in the order of its page.
var sharedDimensions = append([]string{"arch", "site", "ridge_class", "year"}, exposures...)

// leftOut is what no share form has.
var leftOut = []SharedLeftOut{
	{"figures by clinician and the private summaries", "clinicians stand within sites, so a hidden site could be worked out from its clinicians"},
	{"lists of cases, case audits and the list of sore places", "each line is one person"},
	{"curves over days, control charts and the evidence added up month by month", "a step or a month is often one person"},
	{"units beside what their cases predict, stated changes and the case-mix models", "their tables are cut too finely to be protected"},
	{"how complete the records are and how common each habit is", "what is missing is often 1 to 10 people, and a habit is often a band under another name"},
	{"chair time, left and right of a place, what changed since an earlier review", "they would tell what other tables hide"},
	{"days, months and quarters", "periods are years"},
	{"the store’s fingerprint, file names and notes on the data", "they belong to the house"},
}

// Share runs a review in its share form. The seed decides the fresh codes of the sites:
// the same store and seed give the same codes, and who does not know the seed cannot
// work them back. A store with too few people is ErrTooSmallToShare.
func Share(ctx context.Context, st *store.Store, s Settings, h Header, seed string) (*Shared, error) {
	q, err := newAsker(ctx, st, s)
	if err != nil {
		return nil, err
	}
	defer q.close()
	q.progress = h.Progress
	out := &Shared{Kind: SharedKind, Schema: SharedSchema, Version: h.Version, AsOf: h.AsOf,
		Overall: []SharedValue{}, Groups: []SharedGroup{}, Findings: []SharedFinding{}, Hidden: []SharedHidden{}, LeftOut: slices.Clone(leftOut)}
	if out.Basis, out.Invented, err = q.origin(ctx); err != nil {
		return nil, err
	}
	if err := q.exec(ctx, "group_rows"); err != nil {
		return nil, err
	}
	if err := q.exec(ctx, "share_rows"); err != nil {
		return nil, err
	}
	if err := q.shareCoverage(ctx, out); err != nil {
		return nil, err
	}
	if err := q.shareGroups(ctx, out); err != nil {
		return nil, err
	}
	if err := q.shareZones(ctx, out); err != nil {
		return nil, err
	}
	out.freshCodes("site", seed)
	// Last, since it makes groups of its own.
	return out, q.shareFindings(ctx, out)
}

func (q *asker) shareCoverage(ctx context.Context, out *Shared) error {
	c := &out.Coverage
	var dentures, patients, places, placePatients int64
	var median sql.NullFloat64
	err := q.each(ctx, "share_counts", func(rows *sql.Rows) error {
		return rows.Scan(&c.FirstYear, &c.LastYear, &c.Sites, &c.Clinicians, &dentures, &patients, &median, &places, &placePatients)
	}, q.s.LookDays)
	if err != nil {
		return err
	}
	if patients < smallest {
		return ErrTooSmallToShare
	}
	c.Delivered, c.Patients, c.MedianFollowUp = tens(dentures), tens(patients), tens(int64(median.Float64))
	if !tiny(placePatients) {
		n := tens(places)
		c.SorePlaces = &n
	}
	groups, err := q.sharePeople(ctx, "planned_visit", q.s.AdjustmentDays)
	if err != nil {
		return err
	}
	if all := groups["all"]; len(all) == 1 && !all[0].unsafe(true) {
		c.Attended = sharedPart(all[0].withDentures, all[0].dentures, q.s.Level, "% of dentures", "share_people")
	}
	return nil
}

// sharePeople counts the people behind an outcome in every group of group_rows, by
// dimension.
func (q *asker) sharePeople(ctx context.Context, outcome string, days int) (map[string][]people, error) {
	in := map[string][]people{}
	err := q.each(ctx, "share_people", func(rows *sql.Rows) error {
		var k groupKey
		var p people
		err := rows.Scan(&k.dimension, &k.code, &p.dentures, &p.patients, &p.events, &p.withDentures, &p.withPatients, &p.withoutPatients)
		p.code = k.code
		in[k.dimension] = append(in[k.dimension], p)
		return err
	}, outcome, days)
	return in, err
}

// sharedOutcome is an outcome of a share form with its estimates.
type sharedOutcome struct {
	outcome string
	days    int
	once    bool
	scale   float64
	values  map[groupKey]Estimate
	groups  map[string][]people // by dimension
}

// sharedOutcomes are the outcomes with their estimates; chair time follows the visits
// and would tell of visits that are hidden.
func (q *asker) sharedOutcomes(ctx context.Context) ([]sharedOutcome, error) {
	var out []sharedOutcome
	for _, r := range q.recurrents() {
		if r.outcome == Minutes {
			continue
		}
		values, err := q.recurrentEstimates(ctx, r)
		if err != nil {
			return nil, err
		}
		out = append(out, sharedOutcome{r.outcome, r.days, false, r.scale, values, nil})
	}
	patients, err := q.patients(ctx)
	if err != nil {
		return nil, err
	}
	for _, f := range q.firsts() {
		values, _, err := q.firstEstimates(ctx, f, patients)
		if err != nil {
			return nil, err
		}
		out = append(out, sharedOutcome{f.outcome, f.days, true, 100, values, nil})
	}
	return out, nil
}

func (q *asker) shareGroups(ctx context.Context, out *Shared) error {
	outcomes, err := q.sharedOutcomes(ctx)
	if err != nil {
		return err
	}
	var families [][]sharedOutcome // outcomes of which one contains the other
	for _, o := range outcomes {
		if o.groups, err = q.sharePeople(ctx, o.outcome, o.days); err != nil {
			return err
		}
		switch all := o.groups["all"]; {
		case len(all) != 1 || all[0].unsafe(o.once):
			out.drop(o.outcome, "", "1 to 10 people stand behind it in all")
		case o.outcome == Ulcer && len(families) > 0 && families[len(families)-1][0].outcome == SoreSpots:
			families[len(families)-1] = append(families[len(families)-1], o)
		default:
			families = append(families, []sharedOutcome{o})
		}
	}
	for _, family := range families {
		for _, o := range family {
			out.Overall = append(out.Overall, SharedValue{o.outcome, "all", o.figure(groupKey{"all", "all"})})
		}
		for _, dimension := range sharedDimensions {
			out.addDimension(dimension, family)
		}
	}
	return nil
}

// addDimension passes a family's tables of one dimension through the rules.
func (out *Shared) addDimension(dimension string, family []sharedOutcome) {
	tables := make([]cut, len(family))
	for i, o := range family {
		tables[i] = cut{o.groups[dimension], o.once}
	}
	if len(tables[0].rows) < 2 {
		return // nothing to compare
	}
	hidden := hideTogether(tables)
	for i, o := range family {
		if hidden[i] == nil {
			out.drop(o.outcome, dimension, "too little would be left beside what has to be hidden")
			continue
		}
		g := SharedGroup{o.outcome, dimension, []SharedValue{}}
		for k, p := range tables[i].rows {
			v := SharedValue{Outcome: o.outcome, Code: p.code}
			if !hidden[i][k] {
				v.Figure = o.figure(groupKey{dimension, p.code})
			}
			g.Values = append(g.Values, v)
		}
		sortBands(dimension, g.Values)
		out.add(g)
	}
}

// figure is an estimate's share form, nil where the house itself shows none.
func (o sharedOutcome) figure(k groupKey) *SharedFigure {
	e, ok := o.values[k]
	switch {
	case !ok || e.TooFew != "" || !e.Value.Known():
		return nil
	case o.once:
		return sharedShare(e)
	}
	return sharedMean(e, o.scale)
}

func sortBands(dimension string, values []SharedValue) {
	if slices.Contains(exposures, dimension) {
		slices.SortStableFunc(values, func(a, b SharedValue) int {
			return slices.Index(bandOrder, a.Code) - slices.Index(bandOrder, b.Code)
		})
	}
}

// add takes a table in and counts what it hides.
func (out *Shared) add(g SharedGroup) {
	hidden := 0
	for _, v := range g.Values {
		if v.Figure == nil {
			hidden++
		}
	}
	if hidden == len(g.Values) {
		out.drop(g.Outcome, g.Dimension, "nothing would be left beside what has to be hidden")
		return
	}
	out.Groups = append(out.Groups, g)
	if hidden > 0 {
		out.Hidden = append(out.Hidden, SharedHidden{g.Outcome, g.Dimension, hidden, len(g.Values)})
	}
}

// drop says that a table is left out. The page words outcome and dimension, which stand
// as "table OUTCOME DIMENSION".
func (out *Shared) drop(outcome, dimension, why string) {
	out.LeftOut = append(out.LeftOut, SharedLeftOut{strings.TrimSpace("table " + outcome + " " + dimension), why})
}

// shareZones counts early sore spots by place, sides together.
func (q *asker) shareZones(ctx context.Context, out *Shared) error {
	zones, by := contractCodes("sore_spots", "zone"), map[bool][]people{}
	err := q.eachFilled(ctx, "share_zones", linkFill, func(rows *sql.Rows) error {
		var upper bool
		var zone int
		var p people
		if err := rows.Scan(&upper, &zone, &p.events, &p.withPatients, &p.dentures, &p.patients); err != nil {
			return err
		}
		p.code, p.withoutPatients = zones[zone], p.patients-p.withPatients
		by[upper] = append(by[upper], p)
		return nil
	})
	if err != nil {
		return err
	}
	for _, rows := range by {
		slices.SortFunc(rows, func(a, b people) int { return strings.Compare(a.code, b.code) })
	}
	if rows := by[true]; len(rows) > 0 {
		out.addZones("zone:upper", rows, q.s.Level)
	}
	if rows := by[false]; len(rows) > 0 {
		out.addZones("zone:lower", rows, q.s.Level)
	}
	return nil
}

func (out *Shared) addZones(dimension string, rows []people, level float64) {
	hidden := hide(rows, false, make([]bool, len(rows)))
	if hidden == nil || tiny(rows[0].patients) {
		out.drop(SoreSpots, dimension, "too little would be left beside what has to be hidden")
		return
	}
	g := SharedGroup{SoreSpots, dimension, []SharedValue{}}
	for i, p := range rows {
		v := SharedValue{Outcome: SoreSpots, Code: p.code}
		if !hidden[i] {
			v.Figure = sharedCount(p.events, p.dentures, level, "per 100 dentures", "count over dentures delivered, both rounded to tens, exact Poisson limits; spots of one patient counted as independent", "share_zones")
		}
		g.Values = append(g.Values, v)
	}
	out.add(g)
}

// freshCodes gives the values of a dimension new codes, which stand in the order of a
// keyed hash of the old ones.
func (out *Shared) freshCodes(dimension, seed string) {
	keyed := map[string]string{}
	for _, g := range out.Groups {
		for _, v := range g.Values {
			if g.Dimension == dimension {
				mac := hmac.New(sha256.New, []byte(seed))
				mac.Write([]byte(dimension + "\x00" + v.Code))
				keyed[v.Code] = string(mac.Sum(nil))
			}
		}
	}
	codes := make([]string, 0, len(keyed))
	for c := range keyed {
		codes = append(codes, c)
	}
	slices.SortFunc(codes, func(a, b string) int { return strings.Compare(keyed[a], keyed[b]) })
	for _, g := range out.Groups {
		if g.Dimension != dimension {
			continue
		}
		for i := range g.Values {
			g.Values[i].Code = fmt.Sprintf("%s %d", dimension, slices.Index(codes, g.Values[i].Code)+1)
		}
		slices.SortFunc(g.Values, func(a, b SharedValue) int {
			if len(a.Code) != len(b.Code) {
				return len(a.Code) - len(b.Code)
			}
			return strings.Compare(a.Code, b.Code)
		})
	}
}

// sides are the people on both sides of a habit, index 1 with it.
type sides [2]struct{ patients, withOutcome, mostDentures int64 }

// shareFindings passes the pairs through the rules.
func (q *asker) shareFindings(ctx context.Context, out *Shared) error {
	pairs, err := q.pairFindings(ctx, habitHypotheses())
	if err != nil {
		return err
	}
	if err := q.habitRows(ctx); err != nil {
		return err
	}
	by := map[string]map[string]sides{}
	left := 0
	for _, p := range pairs {
		if p.Control || p.Outcome == Minutes || p.Within.Ratio.TooFew != "" {
			continue
		}
		if by[p.Outcome] == nil {
			if by[p.Outcome], err = q.shareSides(ctx, p.Outcome, p.Days); err != nil {
				return err
			}
		}
		if !p.shareable(by[p.Outcome][p.Habit]) {
			left++
			continue
		}
		out.Findings = append(out.Findings, SharedFinding{p.ID, p.Habit, p.Outcome, p.Days, p.Direction, p.Stated, p.Grade, sharedRatio(p.Within.Ratio)})
	}
	if left > 0 {
		out.LeftOut = append(out.LeftOut, SharedLeftOut{"findings with 1 to 10 people on one of their sides", "a finding needs more than ten people on both"})
	}
	return nil
}

func (q *asker) shareSides(ctx context.Context, outcome string, days int) (map[string]sides, error) {
	out := map[string]sides{}
	err := q.each(ctx, "share_sides", func(rows *sql.Rows) error {
		var habit, side string
		var patients, with, most int64
		if err := rows.Scan(&habit, &side, &patients, &with, &most); err != nil {
			return err
		}
		s, at := out[habit], 0
		if side == "with" {
			at = 1
		}
		s[at].patients, s[at].withOutcome, s[at].mostDentures = patients, with, most
		out[habit] = s
		return nil
	}, outcome, days)
	return out, err
}

// shareable reports whether more than ten people stand on either side of a pair, more
// than ten of them with the outcome, and more than ten among the dentures that could be
// compared, however many of these a patient has; and at least a hundred dentures in all.
func (p Pair) shareable(s sides) bool {
	for at, n := range []int64{p.Within.Without.N, p.Within.With.N} {
		side := s[at]
		if side.patients < smallest || side.withOutcome < smallest || n < smallest*max(1, side.mostDentures) {
			return false
		}
	}
	// Below a hundred one digit would tell nearly how many are not recorded, which a band may hide.
	return p.Within.Ratio.N >= 100 && p.Within.Ratio.Value > 0 && p.Within.Ratio.High.Known()
}

// habitColumn is a habit in habit_rows: its groups are numbered from First, four for
// each habit.
type habitColumn struct {
	ID, Column queries.Name
	First      int
}

// habitRows leaves group_rows with every habit as a dimension.
func (q *asker) habitRows(ctx context.Context) error {
	var columns []habitColumn
	for _, h := range habit.Catalogue {
		columns = append(columns, habitColumn{ID: queries.NameOf(h.ID), Column: queries.NameOf(h.Column())})
	}
	slices.SortFunc(columns, func(a, b habitColumn) int { return strings.Compare(a.ID.String(), b.ID.String()) })
	for i := range columns {
		columns[i].First = 4 * i
	}
	return q.execFilled(ctx, "habit_rows", columns)
}
