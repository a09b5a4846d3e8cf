package review

import (
	"context"
	"database/sql"
	"math"

	"afterfit/queries"
)

// pairStatement fills the statements about several comparisons at once.
type pairStatement struct {
	Tasks    int // comparisons in all
	Families []pairFamily
}

// pairFamily are comparisons of one habit that adjust for the same columns: they differ
// in the outcome alone.
type pairFamily struct {
	Exposure, Set queries.Name
	Large         bool // its dentures are read one by one
	Of            []pairTask
}

// pairTask is what a comparison brings to the statements.
type pairTask struct {
	No      int
	Outcome queries.Name
}

// pairsOf gathers the comparisons that are taken into families, in the order in which
// these first come.
func pairsOf(fits []*pairFit, take func(*pairFit) bool) pairStatement {
	s, at := pairStatement{Tasks: len(fits)}, map[[2]queries.Name]int{}
	for no, f := range fits {
		if !take(f) {
			continue
		}
		key := [2]queries.Name{f.exposure, f.set.Name}
		i, ok := at[key]
		if !ok {
			i = len(s.Families)
			at[key], s.Families = i, append(s.Families, pairFamily{Exposure: f.exposure, Set: f.set.Name, Large: f.set.large})
		}
		s.Families[i].Of = append(s.Families[i].Of, pairTask{no, f.outcome})
	}
	return s
}

func everyFit(*pairFit) bool { return true }

// readPatterns reads the patterns of several comparisons at once.
func (q *asker) readPatterns(ctx context.Context, fits []*pairFit) error {
	families := pairsOf(fits, everyFit)
	if err := q.execFilled(ctx, "pair_groups", families); err != nil {
		return err
	}
	return q.eachFilled(ctx, "pair_patterns", families, func(rows *sql.Rows) error {
		p := mixPattern{side: -1}
		var no int
		var mix int64
		var exposed sql.NullBool
		err := rows.Scan(&no, &mix, &exposed, &p.n, &p.share, &p.y, &p.shared, &p.yy, &p.yShare, &p.shareShare)
		p.yShare, p.shareShare = p.yShare/1e9, p.shareShare/1e18
		f := fits[no]
		if exposed.Valid {
			p.side, p.upper, mix = int(bit(exposed.Bool)), mix%2 == 1, mix/2
			if len(f.mixes) == 0 || f.mixes[len(f.mixes)-1] != mix {
				f.mixes = append(f.mixes, mix)
			}
			p.mix = len(f.mixes)
		}
		f.patterns = append(f.patterns, p)
		return err
	})
}

// scores writes the fits as pair_scores reads them: by combination, and by comparison.
func scores(fits []*pairFit) (mixes, tasks string) {
	var rows, terms [][]any
	for no, f := range fits {
		if !f.fitted() {
			continue
		}
		m := f.mix
		for i, mix := range f.mixes {
			rows = append(rows, []any{no, mix, m.band[i], m.rate[i], m.lean[1][i], m.lean[0][i]})
		}
		terms = append(terms, []any{no, m.bands, m.base[1], m.base[0], math.Exp(m.logRatio), f.byMix.exposedRate()})
	}
	return joined(rows), joined(terms)
}

// readCells reads the strata, and what each denture adds to the squares by itself.
func (q *asker) readCells(ctx context.Context, fits []*pairFit) error {
	return q.eachFilled(ctx, "pair_strata", pairsOf(fits, (*pairFit).fitted), func(rows *sql.Rows) error {
		var no, cell int
		var exposed bool
		var s pairSide
		p := pairProduct{times: 1}
		o := &p.of
		err := rows.Scan(&no, &cell, &exposed, &s.n, &s.y, &s.share, &s.size, &s.lean, &s.lean2, &o[0][0], &o[0][1], &o[1][1], &o[0][2], &o[1][2], &o[2][2])
		if err != nil {
			return err
		}
		o[1][0], o[2][0], o[2][1] = o[0][1], o[0][2], o[1][2]
		side := int(bit(exposed))
		p.cell, p.side = [2]int{cell, cell}, [2]int{side, side}
		fits[no].cells[cell][side] = s
		fits[no].products = append(fits[no].products, p)
		return nil
	})
}

// readProducts reads what pairs of dentures of one patient add to the squares.
func (q *asker) readProducts(ctx context.Context, fits []*pairFit) error {
	fitted := pairsOf(fits, (*pairFit).fitted)
	if err := q.execFilled(ctx, "pair_products", fitted); err != nil {
		return err
	}
	return q.eachFilled(ctx, "pair_squares", fitted, func(rows *sql.Rows) error {
		var no int
		var inA, inB bool
		p := pairProduct{times: 2}
		o := &p.of
		err := rows.Scan(&no, &p.cell[0], &inA, &p.cell[1], &inB, &p.twos, &o[0][0], &o[0][1], &o[1][0], &o[1][1], &o[0][2], &o[2][0], &o[2][2], &o[1][2], &o[2][1], &p.mm, &p.mr)
		p.side = [2]int{int(bit(inA)), int(bit(inB))}
		fits[no].products = append(fits[no].products, p)
		return err
	})
}

// readPatients counts the patients compared within clinicians.
func (q *asker) readPatients(ctx context.Context, fits []*pairFit) error {
	many := make([][2]int64, len(fits))
	var compared [][]any
	for no, f := range fits {
		for cell, s := range f.within.fit {
			if s.Compared {
				compared = append(compared, []any{no, cell})
			}
		}
	}
	if len(compared) == 0 {
		return nil
	}
	err := q.eachFilled(ctx, "pair_many", pairsOf(fits, (*pairFit).fitted), func(rows *sql.Rows) error {
		var no int
		var n [2]int64
		err := rows.Scan(&no, &n[0], &n[1])
		many[no] = n
		return err
	}, joined(compared))
	for no, f := range fits {
		if f.within.ok {
			f.countPatients(many[no][0], many[no][1])
		}
	}
	return err
}
