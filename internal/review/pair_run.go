package review

import (
	"context"
	"database/sql"
	"math"
	"slices"
	"strings"
	"sync"

	"afterfit/internal/habit"
	"afterfit/internal/stats"
)

// pairService is what turns a difference into a year's worth.
type pairService struct {
	years        float64
	visitMinutes float64 // per adjustment visit; NaN where never recorded
	visits       int64
	clinicians   int
}

// pairTask is a hypothesis with its adjustment set, which takes a search to derive.
type pairTask struct {
	habit.Hypothesis
	columns []string
}

// pairWindow is an outcome's window and whether it counts once.
func (q *asker) pairWindow(outcome string) (days int, once, ok bool) {
	for _, r := range q.recurrents() {
		if r.outcome == outcome {
			return r.days, false, true
		}
	}
	for _, f := range q.firsts() {
		if f.outcome == outcome {
			return f.days, true, true
		}
	}
	return 0, false, false
}

// pairFindings answers every hypothesis about a habit, in the catalogue's order. Pairs
// of which one side does not exist are answered with too few to tell.
func (q *asker) pairFindings(ctx context.Context, hypotheses []habit.Hypothesis) ([]Pair, error) {
	out := make([]Pair, len(hypotheses))
	outcomes := map[string][]int{}
	var order []string
	for i, h := range hypotheses {
		if outcomes[h.Outcome] == nil {
			order = append(order, h.Outcome)
		}
		outcomes[h.Outcome] = append(outcomes[h.Outcome], i)
	}
	service, err := q.pairService(ctx)
	if err != nil {
		return nil, err
	}
	tasks := make([]pairTask, len(hypotheses))
	for i, h := range hypotheses {
		tasks[i] = pairTask{h, h.Columns()}
	}
	slices.SortStableFunc(order, func(a, b string) int { return len(outcomes[b]) - len(outcomes[a]) })
	if err := q.sideBySide(ctx, order, func(ctx context.Context, q *asker, o string) error {
		return q.outcomePairs(ctx, o, tasks, outcomes[o], service, out)
	}); err != nil {
		return nil, err
	}
	return out, rankPairs(out)
}

// pairWorkers is how many connections answer pairs side by side: the statements are
// small, so that one alone leaves the machine waiting for their planning.
const pairWorkers = 2

// sideBySide answers outcomes on a few connections, the next outcome going to whoever
// is free. Each writes to places of its own, so the result is the same in any order.
func (q *asker) sideBySide(ctx context.Context, outcomes []string, answer func(context.Context, *asker, string) error) error {
	queue := make(chan string, len(outcomes))
	for _, o := range outcomes {
		queue <- o
	}
	close(queue)
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	var wg sync.WaitGroup
	for range min(pairWorkers, len(outcomes)) {
		wg.Go(func() {
			if err := q.onItsOwn(ctx, queue, answer); err != nil {
				stop(err) // the first error stops the others and is the one told
			}
		})
	}
	wg.Wait()
	return context.Cause(ctx)
}

// onItsOwn answers from the queue on a connection of its own.
func (q *asker) onItsOwn(ctx context.Context, queue <-chan string, answer func(context.Context, *asker, string) error) error {
	c, err := q.more(ctx)
	if err != nil {
		return err
	}
	defer c.Close()
	own := &asker{c, q.s, q.more}
	if err := own.exec(ctx, "pair_clinicians"); err != nil {
		return err
	}
	for o := range queue {
		if err := answer(ctx, own, o); err != nil {
			return err
		}
	}
	return nil
}

func (q *asker) pairService(ctx context.Context) (pairService, error) {
	s := pairService{visitMinutes: math.NaN()}
	err := q.each(ctx, "pair_service", func(rows *sql.Rows) error {
		var quarters, years, minutes int64
		if err := rows.Scan(&quarters, &years, &minutes, &s.visits); err != nil {
			return err
		}
		if s.years = float64(years); quarters > 0 {
			s.years = float64(quarters) / 4
		}
		if s.visits > 0 {
			s.visitMinutes = float64(minutes) / float64(s.visits)
		}
		return nil
	})
	if err != nil {
		return s, err
	}
	if err := q.exec(ctx, "pair_clinicians"); err != nil {
		return s, err
	}
	err = q.each(ctx, "pair_codes", func(rows *sql.Rows) error {
		s.clinicians++
		var code string
		return rows.Scan(&code)
	})
	return s, err
}

// outcomePairs answers the hypotheses about one outcome, those with the same
// adjustment set in a row.
func (q *asker) outcomePairs(ctx context.Context, outcome string, tasks []pairTask, which []int, service pairService, out []Pair) error {
	days, once, ok := q.pairWindow(outcome)
	if !ok {
		return nil
	}
	if err := q.outcomeRows(ctx, outcome, days, once); err != nil {
		return err
	}
	set := func(i int) string { return strings.Join(tasks[i].columns, ",") }
	which = slices.Clone(which)
	slices.SortStableFunc(which, func(a, b int) int { return strings.Compare(set(a), set(b)) })
	var mixes coding
	for n, i := range which {
		h := tasks[i]
		if n == 0 || set(i) != set(which[n-1]) {
			var err error
			if mixes, err = q.makeMixes(ctx, h.columns); err != nil {
				return err
			}
		}
		patterns, err := q.mixPatterns(ctx, h.Column())
		if err != nil {
			return err
		}
		f, err := q.fitPair(ctx, h.Column(), patterns, mixes, h.columns, service.clinicians)
		if err != nil {
			return err
		}
		if out[i], err = q.answer(h, f, patterns, service, days, once); err != nil {
			return err
		}
	}
	return nil
}

// rankPairs gives the q-values over the family, which the negative controls do not
// belong to, and then the grades.
func rankPairs(pairs []Pair) error {
	var p []float64
	var of []int
	for i := range pairs {
		if !pairs[i].Control && pairs[i].P.Known() {
			p, of = append(p, float64(pairs[i].P)), append(of, i)
		}
	}
	adjusted, err := stats.BenjaminiHochberg(p)
	if err != nil {
		return err
	}
	for k, i := range of {
		pairs[i].Q = Num(adjusted[k])
	}
	for i := range pairs {
		pairs[i].grade()
	}
	return nil
}

// strongestPairs picks the adverse pairs, surest first. Habits that are faces of one
// thing, which the causal diagram keeps in one node, stand for one finding.
func strongestPairs(pairs []Pair, most int) []Pair {
	ranked := []Pair{}
	for _, p := range pairs {
		if p.adverse() {
			ranked = append(ranked, p)
		}
	}
	slices.SortStableFunc(ranked, func(a, b Pair) int {
		switch {
		case a.strength() > b.strength():
			return -1
		case a.strength() < b.strength():
			return 1
		}
		return strings.Compare(a.ID, b.ID)
	})
	out, seen := []Pair{}, map[string]bool{}
	for _, p := range ranked {
		face := p.Habit
		if h, ok := habit.FindHypothesis(p.ID); ok && h.Node() != "" {
			face = h.Node()
		}
		if !seen[face] && len(out) < most {
			seen[face] = true
			out = append(out, p)
		}
	}
	return out
}

// habitHypotheses are those of the catalogue that compare with and without.
func habitHypotheses() []habit.Hypothesis {
	var out []habit.Hypothesis
	for _, h := range habit.Hypotheses {
		if h.Kind == habit.OfHabit {
			out = append(out, h)
		}
	}
	return out
}
