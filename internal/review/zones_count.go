package review

import (
	"context"
	"database/sql"
)

// zonePlace is a place at which sore spots were ever seen.
type zonePlace struct{ zone, side string }

func (q *asker) zonePlaces(ctx context.Context) (out []zonePlace, err error) {
	return out, q.each(ctx, "zone_names", func(rows *sql.Rows) error {
		var p zonePlace
		err := rows.Scan(&p.zone, &p.side)
		out = append(out, p)
		return err
	})
}

// soreAt is a place at which a denture was sore, from 0, and how often.
type soreAt struct {
	place int32
	spots int32
}

// soreDentures reads zone_spots: those of denture i are all[start[i]:start[i+1]].
type soreDentures struct {
	places []zonePlace
	start  []int32
	all    []soreAt
}

func (q *asker) soreDentures(ctx context.Context, d *dentures) (*soreDentures, error) {
	err := q.zoneSpots(ctx)
	if err != nil {
		return nil, err
	}
	s := &soreDentures{}
	if s.places, err = q.zonePlaces(ctx); err != nil {
		return nil, err
	}
	var read [][2]int64 // the denture and place as written, and the spots
	err = q.eachWord(ctx, "zone_words", nil, 2, func(w []int64) {
		if d.row(w[0]>>32) >= 0 {
			read = append(read, [2]int64(w))
		}
	})
	s.start, s.all = inPlace(read, d.n, func(w [2]int64) (int, soreAt) {
		return int(d.row(w[0] >> 32)), soreAt{int32(w[0]&(1<<32-1)) - 1, int32(w[1])}
	})
	return s, err
}

// zonesOf sums, by arch (lower first), dentures with a habit and without it, and the
// spots of every place, and over patients their products.
func (d *dentures) zonesOf(sides *codes, sore *soreDentures) (sizes [2]habitSizes, sums [2][]zoneSums) {
	type spots struct{ w, o int64 }
	var at [2][]spots    // of one patient, by place
	var found [2][]int32 // the places that have any
	for arch := range sums {
		sums[arch], at[arch] = make([]zoneSums, len(sore.places)), make([]spots, len(sore.places))
	}
	for p := range len(d.patients) - 1 {
		var n [2]spots // dentures
		for i := int(d.patients[p]); i < int(d.patients[p+1]); i++ {
			code := sides.at(i)
			if code == len(sides.levels) {
				continue
			}
			arch, with := code%2, code >= 2
			count(with, &n[arch].w, &n[arch].o, 1)
			for _, s := range sore.all[sore.start[i]:sore.start[i+1]] {
				b := &at[arch][s.place]
				if *b == (spots{}) {
					found[arch] = append(found[arch], s.place)
				}
				count(with, &b.w, &b.o, int64(s.spots))
			}
		}
		for arch, n := range n {
			if n == (spots{}) {
				continue
			}
			s := &sizes[arch]
			s.w, s.o, s.patients = s.w+n.w, s.o+n.o, s.patients+1
			s.ww, s.oo, s.wo = s.ww+n.w*n.w, s.oo+n.o*n.o, s.wo+n.w*n.o
			for _, place := range found[arch] {
				z, b := &sums[arch][place], at[arch][place]
				at[arch][place] = spots{}
				z.bw, z.bo = z.bw+b.w, z.bo+b.o
				z.bwbw, z.bobo, z.bwbo = z.bwbw+b.w*b.w, z.bobo+b.o*b.o, z.bwbo+b.w*b.o
				z.bww, z.bwo, z.bow, z.boo = z.bww+b.w*n.w, z.bwo+b.w*n.o, z.bow+b.o*n.w, z.boo+b.o*n.o
			}
			found[arch] = found[arch][:0]
		}
	}
	return sizes, sums
}

func count(with bool, w, o *int64, n int64) {
	if with {
		*w += n
	} else {
		*o += n
	}
}
