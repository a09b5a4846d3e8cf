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
	Weight int64 // with clinician and arch
}

// codedColumn says how pair_coded numbers the levels of a column.
type codedColumn struct {
	No, Last     int // place of the levels among the parameters, and the number for not recorded
	Column, Code queries.Name
}

func codeOf(column string) queries.Name { return queries.NameOf("m_" + column) }

// codePairs numbers clinicians and the levels of every column of case mix that a
// hypothesis asks for, once for all comparisons, and leaves pair_coded.
func (q *asker) codePairs(ctx context.Context, columns []string) (mixLevels, error) {
	names := make([]queries.Name, len(columns))
	for i, c := range columns {
		names[i] = queries.NameOf(c)
	}
	levels := make([][]string, len(columns))
	err := q.eachFilled(ctx, "pair_levels", names, func(rows *sql.Rows) error {
		var no int
		var level sql.NullString
		err := rows.Scan(&no, &level)
		if level.Valid {
			levels[no] = append(levels[no], level.String)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	out, coded, args := mixLevels{}, make([]codedColumn, len(columns)), make([]any, len(columns))
	for i, c := range columns {
		out[c] = levels[i]
		coded[i] = codedColumn{i + 1, len(levels[i]), names[i], codeOf(c)}
		args[i] = strings.Join(levels[i], "\x1f")
	}
	return out, q.execFilled(ctx, "pair_coded", coded, args...)
}

// numbering says how combinations of the columns' levels are numbered: like the digits
// of a number, the first column being the first digit, so that their order is that of
// the levels. The statements put the number together with the clinician, and with what
// fits into spare.
func (l mixLevels) numbering(columns []string, clinicians, spare int) ([]mixColumn, error) {
	out, size := make([]mixColumn, len(columns)), int64(1)
	per := 2 * int64(max(1, clinicians)) // clinician and arch come last
	for i, c := range slices.Backward(columns) {
		out[i] = mixColumn{codeOf(c), size, size * per}
		levels := int64(len(l[c]) + 1)
		if size > math.MaxInt64/(levels*per*int64(spare)) {
			return nil, fmt.Errorf("case mix of %s has more combinations of levels than can be numbered", strings.Join(columns, ", "))
		}
		size *= levels
	}
	return out, nil
}

// coding names the levels of the combinations with these numbers.
func (l mixLevels) coding(columns []string, numbered []mixColumn, mixes []int64) coding {
	c := coding{names: make([][]string, len(columns)), of: make([][]int, len(mixes))}
	for k, column := range columns {
		c.names[k] = append(slices.Clone(l[column]), "") // "" is a level of its own: not recorded
	}
	for i, mix := range mixes {
		c.of[i] = make([]int, len(columns))
		for k, column := range numbered {
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

// mixPatterns reads the patterns of several comparisons at once.
func (q *asker) mixPatterns(ctx context.Context, fits []*pairFit, clinicians int) error {
	if err := q.execFilled(ctx, "pair_groups", pairStatement{len(fits), clinicians, pairTasks(fits)}); err != nil {
		return err
	}
	return q.each(ctx, "pair_patterns", func(rows *sql.Rows) error {
		p := mixPattern{side: -1}
		var no int
		var mix int64
		var exposed sql.NullBool
		err := rows.Scan(&no, &mix, &p.upper, &exposed, &p.n, &p.share, &p.y, &p.shared, &p.yy, &p.yShare, &p.shareShare)
		p.yShare, p.shareShare = p.yShare/1e9, p.shareShare/1e18
		if exposed.Valid {
			p.side = int(bit(exposed.Bool))
		}
		f := fits[no]
		if len(f.mixes) == 0 || f.mixes[len(f.mixes)-1] != mix {
			f.mixes = append(f.mixes, mix)
		}
		p.mix = len(f.mixes)
		f.patterns = append(f.patterns, p)
		return err
	})
}
