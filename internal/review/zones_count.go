package review

import (
	"cmp"
	"slices"
)

// sidesOfZone is how many sides a place has, that not recorded among them.
var sidesOfZone = 1 + len(contractCodes("sore_spots", "side"))

// zonePlace is a place at which a sore spot can be seen; side "" is not recorded.
type zonePlace struct{ zone, side string }

// zonePlaces are all places, each at its number in the linked tables, which count from 1.
var zonePlaces = func() []zonePlace {
	places := make([]zonePlace, 1)
	for _, zone := range contractCodes("sore_spots", "zone") {
		places = append(places, zonePlace{zone, ""})
		for _, side := range contractCodes("sore_spots", "side") {
			places = append(places, zonePlace{zone, side})
		}
	}
	return places
}()

// compare puts places in the order of their names.
func (p zonePlace) compare(o zonePlace) int {
	return cmp.Or(cmp.Compare(p.zone, o.zone), cmp.Compare(p.side, o.side))
}

// zonesInOrder are the numbers of all places, in the order of their names.
var zonesInOrder = func() []int {
	out := make([]int, 0, len(zonePlaces)-1)
	for i := range zonePlaces[1:] {
		out = append(out, i+1)
	}
	slices.SortFunc(out, func(a, b int) int { return zonePlaces[a].compare(zonePlaces[b]) })
	return out
}()

// zonesOf sums, by arch (lower first), dentures with a habit and without it, and the
// spots of every place in the window of linked_events, and over patients their products.
func (d *dentures) zonesOf(sides *codes) (sizes [2]habitSizes, sums [2][]zoneSums) {
	type spots struct{ w, o int64 }
	var at [2][]spots  // of one patient, by place
	var found [2][]int // the places that have any
	for arch := range sums {
		sums[arch], at[arch] = make([]zoneSums, len(zonePlaces)), make([]spots, len(zonePlaces))
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
			for _, e := range d.events.spots.of(i) {
				b := &at[arch][e.place()]
				if *b == (spots{}) {
					found[arch] = append(found[arch], e.place())
				}
				count(with, &b.w, &b.o, 1)
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
