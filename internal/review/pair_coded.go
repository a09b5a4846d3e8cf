package review

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"strings"

	"afterfit/queries"
)

// mixLevels are the levels of every column of case mix in their order. Each gives the
// place of a denture in its column; the place after the last is for not recorded.
type mixLevels map[string][]string

// mixColumn is a column of case mix in a statement: the column with the numbers of its
// levels, and what a number counts for in that of a combination of levels.
type mixColumn struct {
	Code   queries.Name
	size   int64
	Weight int64 // with the arch
}

// mixSet is a set of columns of case mix that comparisons adjust for. Every denture's
// combination of its levels and arch is one number.
type mixSet struct {
	columns []string
	Name    queries.Name // of the column with that number
	Mix     []mixColumn
	Wide    bool // the number needs 64 bits
	size    int64
	groups  int64 // of case mix, clinician and arch, about
	large   bool  // so many groups that dentures are read one by one
}

// pairBasis is what the comparisons rest on: pair_dentures and pair_mates hold the
// dentures with these sets, habits and outcomes.
type pairBasis struct {
	levels     mixLevels
	clinicians int
	sets       []mixSet
	dentures   int64
}

// orArch are the columns to adjust for; nothing to adjust for leaves the arch, which every
// comparison keeps apart anyway.
func orArch(columns []string) []string {
	if len(columns) == 0 {
		return []string{"arch"}
	}
	return columns
}

// set finds the set of these columns.
func (b *pairBasis) set(columns []string) (*mixSet, error) {
	columns = orArch(columns)
	for i := range b.sets {
		if slices.Equal(b.sets[i].columns, columns) {
			return &b.sets[i], nil
		}
	}
	return nil, fmt.Errorf("the dentures are not numbered by %s", strings.Join(columns, ", "))
}

func (b *pairBasis) places() int { return 2 * b.clinicians }

// codedColumn says how pair_dentures numbers the levels of a column.
type codedColumn struct {
	No, Last     int // place of the levels among the parameters, and the number for not recorded
	Column, Code queries.Name
}

func codeOf(column string) queries.Name { return queries.NameOf("m_" + column) }

// codePairs numbers the dentures by every set of columns of case mix, once for all
// comparisons of these habits, and leaves pair_dentures and pair_mates.
func (q *asker) codePairs(ctx context.Context, habits []string, sets [][]string, clinicians int) (*pairBasis, error) {
	if err := q.outcomeSheet(ctx); err != nil {
		return nil, err
	}
	b := &pairBasis{clinicians: max(1, clinicians)}
	var columns []string
	for _, set := range sets {
		set = orArch(set)
		for _, c := range set {
			if !slices.Contains(columns, c) {
				columns = append(columns, c)
			}
		}
		if _, err := b.set(set); err != nil {
			b.sets = append(b.sets, mixSet{columns: set, Name: queries.NameOf(fmt.Sprintf("mix_%d", len(b.sets)))})
		}
	}
	levels, err := q.pairLevels(ctx, columns)
	if err != nil {
		return nil, err
	}
	b.levels = levels
	for i := range b.sets {
		if err := b.number(&b.sets[i]); err != nil {
			return nil, err
		}
	}
	return b, q.layOutPairs(ctx, b, habits, columns)
}

// pairLevels reads the levels of each column.
func (q *asker) pairLevels(ctx context.Context, columns []string) (mixLevels, error) {
	names, out := make([]queries.Name, len(columns)), mixLevels{}
	for i, c := range columns {
		names[i] = queries.NameOf(c)
	}
	return out, q.eachFilled(ctx, "pair_levels", names, func(rows *sql.Rows) error {
		var no int
		var level sql.NullString
		err := rows.Scan(&no, &level)
		if level.Valid {
			out[columns[no]] = append(out[columns[no]], level.String)
		}
		return err
	})
}

// number says how combinations of the columns' levels are numbered: like the digits of a
// number, the first column being the first digit, so that their order is that of the
// levels. The arch comes last.
func (b *pairBasis) number(set *mixSet) error {
	set.Mix, set.size = make([]mixColumn, len(set.columns)), 1
	for i, c := range slices.Backward(set.columns) {
		set.Mix[i] = mixColumn{codeOf(c), set.size, 2 * set.size}
		levels := int64(len(b.levels[c]) + 1)
		if set.size > math.MaxInt64/(2*levels*int64(b.places())) {
			return fmt.Errorf("case mix of %s has more combinations of levels than can be numbered", strings.Join(set.columns, ", "))
		}
		set.size *= levels
	}
	set.Wide = 2*set.size > math.MaxInt32
	return nil
}

// pairLayout fills the statements that lay the dentures out.
type pairLayout struct {
	Columns          []codedColumn
	Sets             []mixSet
	Habits, Outcomes []queries.Name
	Places           int // of clinician and arch
}

// layOutPairs leaves pair_dentures and pair_mates.
func (q *asker) layOutPairs(ctx context.Context, b *pairBasis, habits, columns []string) error {
	layout, args := pairLayout{Sets: b.sets, Places: b.places()}, make([]any, len(columns))
	for i, c := range columns {
		layout.Columns = append(layout.Columns, codedColumn{i + 1, len(b.levels[c]), queries.NameOf(c), codeOf(c)})
		args[i] = strings.Join(b.levels[c], "\x1f")
	}
	for _, h := range habits {
		if name := queries.NameOf(h); !slices.Contains(layout.Habits, name) {
			layout.Habits = append(layout.Habits, name)
		}
	}
	for _, o := range q.outcomeColumns() {
		layout.Outcomes = append(layout.Outcomes, o.Name)
	}
	if err := q.execFilled(ctx, "pair_dentures", layout, args...); err != nil {
		return err
	}
	if err := q.execFilled(ctx, "pair_mates", layout); err != nil {
		return err
	}
	return q.sizePairs(ctx, b, layout)
}

// Dentures are grouped before they are joined with a model's scores where that makes them
// fewer by fewGroups or more. Below manyDentures they are always grouped: what a statement
// costs there is its planning, which reading the dentures anew for each comparison doubles.
const (
	fewGroups    = 8
	manyDentures = 50_000
)

// sizePairs sizes up the groups of each set.
func (q *asker) sizePairs(ctx context.Context, b *pairBasis, layout pairLayout) error {
	return q.eachFilled(ctx, "pair_sizes", layout, func(rows *sql.Rows) error {
		var no int
		var groups int64
		err := rows.Scan(&no, &groups, &b.dentures)
		b.sets[no].groups = groups
		b.sets[no].large = b.dentures > manyDentures && groups > b.dentures/fewGroups
		return err
	})
}

// coding names the levels of the combinations with these numbers.
func (b *pairBasis) coding(set *mixSet, mixes []int64) coding {
	c := coding{names: make([][]string, len(set.columns)), of: make([][]int, len(mixes))}
	for k, column := range set.columns {
		c.names[k] = append(slices.Clone(b.levels[column]), "") // "" is a level of its own: not recorded
	}
	for i, mix := range mixes {
		c.of[i] = make([]int, len(set.columns))
		for k, column := range set.Mix {
			c.of[i][k], mix = int(mix/column.size), mix%column.size
		}
	}
	return c
}

// coding numbers the levels of every column of the mixes.
type coding struct {
	names [][]string // by column
	of    [][]int    // by mix and column
}

// encodeLevels numbers levels that are given as text.
func encodeLevels(mixes [][]string, columns int) coding {
	c := coding{names: make([][]string, columns), of: make([][]int, len(mixes))}
	for i := range c.of {
		c.of[i] = make([]int, columns)
	}
	for k := range columns {
		number := map[string]int{}
		for i, levels := range mixes {
			n, ok := number[levels[k]]
			if !ok {
				n = len(c.names[k])
				number[levels[k]], c.names[k] = n, append(c.names[k], levels[k])
			}
			c.of[i][k] = n
		}
	}
	return c
}
