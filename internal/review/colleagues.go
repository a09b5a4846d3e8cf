package review

import (
	"context"
	"database/sql"
	"fmt"

	"afterfit/internal/stats"
)

// What a clinician's figure is set beside is the same figure of all colleagues together:
// of everybody less the clinician. It is worked out as that difference. To count each
// group of colleagues by itself would read every denture once for every clinician.

// ownAndOthers answers every outcome for each clinician and for each clinician's
// colleagues. The outcomes come in the order of the pack.
func (q *asker) ownAndOthers(ctx context.Context, m *material) error {
	if err := q.exec(ctx, "clinician_rows"); err != nil {
		return err
	}
	keep := func(outcome string, own, others map[string]Estimate) {
		m.outcomes = append(m.outcomes, outcome)
		m.own[outcome], m.others[outcome] = own, others
	}
	for _, r := range q.recurrents() {
		own, others, err := q.recurrentBeside(ctx, r)
		if err != nil {
			return err
		}
		keep(r.outcome, own, others)
	}
	patients, err := q.patients(ctx)
	if err != nil {
		return err
	}
	without, err := q.colleaguePatients(ctx)
	if err != nil {
		return err
	}
	for _, f := range q.firsts() {
		own, others, err := q.firstBeside(ctx, f, patients, without)
		if err != nil {
			return err
		}
		keep(f.outcome, own, others)
	}
	return nil
}

// everybody is the group that clinician_rows makes of all clinicians.
var everybody = groupKey{"all", "all"}

// codesAlone drops the group of everybody and keeps the clinicians' codes.
func codesAlone(estimates map[groupKey]Estimate) map[string]Estimate {
	out := map[string]Estimate{}
	for k, e := range estimates {
		if k != everybody {
			out[k.code] = e
		}
	}
	return out
}

func (q *asker) recurrentBeside(ctx context.Context, r recurrent) (own, others map[string]Estimate, err error) {
	groups, order, err := q.prepare(ctx, r)
	if err != nil {
		return nil, nil, err
	}
	estimates, err := q.recurrentOf(ctx, r, groups, order)
	if err != nil {
		return nil, nil, err
	}
	if err := q.exec(ctx, "colleague_steps"); err != nil {
		return nil, nil, err
	}
	if err := q.exec(ctx, "colleague_marks", r.outcome, r.days); err != nil {
		return nil, nil, err
	}
	squares := map[string]robustSum{}
	err = q.each(ctx, "colleague_squares", func(rows *sql.Rows) error {
		var code string
		var s robustSum
		err := rows.Scan(&code, &s.patients, &s.squares)
		squares[code] = s
		return err
	})
	if err != nil {
		return nil, nil, err
	}
	others = map[string]Estimate{}
	for _, k := range order {
		g := groups[everybody].less(groups[k])
		if k == everybody || g.n == 0 {
			continue
		}
		if others[k.code], err = q.recurrentEstimate(r, g, squares[k.code]); err != nil {
			return nil, nil, fmt.Errorf("%s, colleagues of %s: %w", r.outcome, k.code, err)
		}
	}
	return codesAlone(estimates), others, nil
}

// less is everybody without one group.
func (g *recurrentCounts) less(o *recurrentCounts) *recurrentCounts {
	out := &recurrentCounts{n: g.n - o.n, total: g.total - o.total, days: g.days - o.days}
	at := 0
	for i, e := range g.ends {
		v := g.events[i]
		if at < len(o.ends) && o.ends[at].Day == e.Day {
			e.N, v.N = e.N-o.ends[at].N, v.N-o.events[at].N
			at++
		}
		if e.N > 0 || v.N > 0 {
			out.ends, out.events = append(out.ends, e), append(out.events, v)
		}
	}
	return out
}

// colleaguePatients counts the patients who have a denture of a colleague.
func (q *asker) colleaguePatients(ctx context.Context) (map[string]int64, error) {
	out := map[string]int64{}
	err := q.each(ctx, "colleague_patients", func(rows *sql.Rows) error {
		var code string
		var n int64
		err := rows.Scan(&code, &n)
		out[code] = n
		return err
	})
	return out, err
}

// firstBeside takes the patients behind the groups, and those of each clinician's
// colleagues.
func (q *asker) firstBeside(ctx context.Context, f first, patients map[groupKey]int64, without map[string]int64) (own, others map[string]Estimate, err error) {
	d, err := q.firstData(ctx, f, patients)
	if err != nil {
		return nil, nil, err
	}
	estimates, err := q.firstOf(f, d)
	if err != nil {
		return nil, nil, err
	}
	mixed, err := q.pairs(ctx, "colleague_pairs")
	if err != nil {
		return nil, nil, err
	}
	taken := map[string][]unitPair{} // pairs that go when a clinician's dentures go
	for k, pairs := range d.pairs {
		if k != everybody {
			taken[k.code] = pairs
		}
	}
	for _, p := range mixed["clinician"] {
		taken[p.codeA] = append(taken[p.codeA], p)
	}
	others = map[string]Estimate{}
	left := newPairSet(d.pairs[everybody])
	for _, k := range d.order {
		g := d.groups[everybody].less(d.groups[k])
		if k == everybody || g.n == 0 {
			continue
		}
		e, err := q.firstEstimate(f, groupKey{"colleagues", k.code}, g, left.less(taken[k.code], k.code), without[k.code])
		if err != nil {
			return nil, nil, err
		}
		others[k.code] = e
	}
	return codesAlone(estimates), others, nil
}

// less is everybody without one group. Days on which nobody is left fall away.
func (g *firstCounts) less(o *firstCounts) *firstCounts {
	out := &firstCounts{n: g.n - o.n, events: g.events - o.events, days: g.days - o.days}
	at := 0
	for _, r := range g.rows {
		x := stats.CauseCount{Time: r.Time, Events: []int64{r.Events[0], r.Events[1]}, Censored: r.Censored}
		if at < len(o.rows) && o.rows[at].Time == r.Time {
			x.Events[0], x.Events[1], x.Censored = x.Events[0]-o.rows[at].Events[0], x.Events[1]-o.rows[at].Events[1], x.Censored-o.rows[at].Censored
			at++
		}
		if x.Events[0]+x.Events[1]+x.Censored > 0 {
			out.rows = append(out.rows, x)
		}
	}
	return out
}

// pairSet is everybody's pairs, from which those of one clinician can be taken.
type pairSet struct {
	all []unitPair
	at  map[[2]unit]int
}

func newPairSet(all []unitPair) *pairSet {
	s := &pairSet{all, make(map[[2]unit]int, len(all))}
	for i, p := range all {
		s.at[[2]unit{p.a, p.b}] = i
	}
	return s
}

// less gives the pairs without the ones taken, under another code, in the same order.
func (s *pairSet) less(taken []unitPair, code string) []unitPair {
	out := make([]unitPair, len(s.all))
	for i, p := range s.all {
		p.codeA, p.codeB = code, code
		out[i] = p
	}
	for _, p := range taken {
		out[s.at[[2]unit{p.a, p.b}]].n -= p.n
	}
	kept := out[:0]
	for _, p := range out {
		if p.n > 0 {
			kept = append(kept, p)
		}
	}
	return kept
}
