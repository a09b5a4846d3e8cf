package review

import (
	"context"
	"database/sql"
	"math"
	"slices"

	"afterfit/queries"
)

// pairStatement fills the statements about several comparisons at once.
type pairStatement struct {
	Tasks, Clinicians int
	Of                []pairTask
}

// pairTask is what a comparison brings to them.
type pairTask struct {
	No       int
	Exposure queries.Name
	Mix      []mixColumn
}

func pairTasks(fits []*pairFit) []pairTask {
	out := make([]pairTask, len(fits))
	for i, f := range fits {
		out[i] = pairTask{i, f.exposure, f.numbered}
	}
	return out
}

// neededColumns are the columns of pair_coded that the comparisons look at.
func neededColumns(fits []*pairFit) []queries.Name {
	var out []queries.Name
	need := func(n queries.Name) {
		if !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	for _, f := range fits {
		need(f.exposure)
		for _, c := range f.numbered {
			need(c.Code)
		}
	}
	return out
}

// scores writes the fits as pair_scores reads them.
func scores(fits []*pairFit) string {
	var rows [][]any
	for no, f := range fits {
		if !f.fitted() {
			continue
		}
		m := f.mix
		for i, mix := range f.mixes {
			rows = append(rows, []any{no, mix, m.band[i], m.bands, m.rate[i], m.lean[1][i], m.lean[0][i], m.base[1], m.base[0], math.Exp(m.logRatio), f.byMix.exposedRate()})
		}
	}
	return joined(rows)
}

// readCells reads the strata, and what each denture adds to the squares by itself.
func (q *asker) readCells(ctx context.Context, fits []*pairFit) error {
	return q.each(ctx, "pair_strata", func(rows *sql.Rows) error {
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
func (q *asker) readProducts(ctx context.Context, fits []*pairFit, clinicians int) error {
	fitted := slices.DeleteFunc(pairTasks(fits), func(t pairTask) bool { return !fits[t.No].fitted() })
	return q.eachFilled(ctx, "pair_squares", pairStatement{len(fits), clinicians, fitted}, func(rows *sql.Rows) error {
		var no int
		var a, b bool
		p := pairProduct{times: 2}
		o := &p.of
		err := rows.Scan(&no, &p.cell[0], &a, &p.cell[1], &b, &p.twos, &o[0][0], &o[0][1], &o[1][0], &o[1][1], &o[0][2], &o[2][0], &o[2][2], &o[1][2], &o[2][1], &p.mm, &p.mr)
		p.side = [2]int{int(bit(a)), int(bit(b))}
		fits[no].products = append(fits[no].products, p)
		return err
	})
}

// readPatients counts the patients compared within clinicians.
func (q *asker) readPatients(ctx context.Context, fits []*pairFit, clinicians int) error {
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
	err := q.eachFilled(ctx, "pair_many", pairStatement{len(fits), clinicians, pairTasks(fits)}, func(rows *sql.Rows) error {
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
