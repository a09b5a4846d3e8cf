package demo

import "afterfit/internal/bundle"

// bed is an arch's list of zones with the share of sore spots in each. The shares of
// the named sites follow Kivovics 2007 (upper: vestibular sulcus 41 %, tuberosity
// 21 %, hamular notch 12 %; lower: retromylohyoid 17 %, lingual sulcus 14 %,
// vestibular sulcus 13 %; vestibular sulcus = labial and buccal here); how the rest
// is split is invented.
type bed struct {
	zones  []string
	usual  mix
	crests mix // whole-ridge soreness, where too little freeway space is left
}

var (
	upperBed = bed{bundle.Zones("upper"),
		newMix([]float64{16, 3, 3, 25, 3, 21, 12, 4, 3, 2, 2, 3, 3}),
		newMix([]float64{0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1})}
	lowerBed = bed{bundle.Zones("lower"),
		newMix([]float64{5, 2, 2, 8, 8, 5, 7, 17, 10, 14, 3, 3, 7, 6, 2, .5, .5}),
		newMix([]float64{0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 0, 0, 0})}
	gradeMix = newMix([]float64{0.58, 0.42 - ulcerShare, ulcerShare})
	middling = []string{"labial_frenum", "lingual_frenum", "palate_midline", "incisive_papilla", "genial", "posterior_seal"}
	midZone  = middleZones()
	// crestShare is the part of the spots that whole-ridge soreness brings.
	crestShare = 0.35
)

// sides are the codes of a spot's side.
var sides = [...]string{sideLeft: "left", sideRight: "right", sideMiddle: "middle"}

const (
	sideLeft uint8 = iota
	sideRight
	sideMiddle
)

// middleZones marks the zones that lie in the midline, by arch (upper first) and
// index.
func middleZones() [2][]bool {
	var marks [2][]bool
	for i, b := range []bed{upperBed, lowerBed} {
		marks[i] = make([]bool, len(b.zones))
		for j, z := range b.zones {
			marks[i][j] = bitOf(middling, z) != 0
		}
	}
	return marks
}

// bedOf gives the arch's bed and its index in midZone.
func bedOf(arch string) (*bed, int) {
	if arch == "lower" {
		return &lowerBed, 1
	}
	return &upperBed, 0
}

func (g *generator) soreSpot(c *course, arch string) spot {
	b, i := bedOf(arch)
	zones := b.usual
	if c.freeway < freewayLowBelow && g.chance(crestShare) {
		zones = b.crests
	}
	s := spot{zone: uint8(g.pick(zones)), side: sideMiddle, grade: uint8(1 + g.pick(gradeMix))} // below 32 and below 4
	if !midZone[i][s.zone] {
		s.side = sideLeft
		if g.chance(0.5) {
			s.side = sideRight
		}
	}
	return s
}

// persist gives about one denture in eighty a spot that is still there two to five
// weeks later at the same place: what the list of lesions to check is made of.
func (g *generator) persist(c *course, d *denture, from int) {
	if !g.chance(0.012) {
		return
	}
	for i := from; i < len(g.log); i++ {
		if v := &g.log[i]; v.found > 0 {
			again := visit{day: v.day - d.delivered + g.between(15, 35), reason: "complaint", adjusted: true, talk: talkSore, found: 1}
			again.spots[0] = v.spots[0]
			again.spots[0].grade = uint8(g.between(2, 3))
			g.note(c, d, again)
			return
		}
	}
}

// sortLog brings the case's visits into the order of days; upper stays before lower
// on one day.
func (g *generator) sortLog() {
	for i := 1; i < len(g.log); i++ {
		for j := i; j > 0 && g.log[j].day < g.log[j-1].day; j-- {
			g.log[j], g.log[j-1] = g.log[j-1], g.log[j]
		}
	}
}

// writeVisits writes the visits; some that fell on one day are written as one visit
// for both arches, and some name no arch.
func (g *generator) writeVisits(c *course) {
	for i := 0; i < len(g.log); i++ {
		v := &g.log[i]
		var other *visit
		if i+1 < len(g.log) && v.merges(&g.log[i+1]) && g.chance(mergedVisits) {
			i++
			other = &g.log[i]
		}
		g.writeVisit(c, v, other)
	}
}

// merges reports whether two visits can be one: same day, other arch, and the same
// answer to whether something was altered.
func (v *visit) merges(w *visit) bool {
	return v.day == w.day && v.arch != w.arch && v.adjusted == w.adjusted
}

func (g *generator) writeVisit(c *course, v, other *visit) {
	g.visits++
	arch, talk, found := v.arch, v.talk, v.found
	if other != nil {
		arch, talk, found = "both", talk|other.talk, found+other.found
	}
	if talk != talkNone {
		talk &^= talkNone
	}
	s := g.out.visits
	s.id('V', g.visits)
	s.id('C', c.id)
	s.number(v.day)
	s.text(g.unless(unnamedArch, arch))
	s.text(g.unless(c.gap/2, v.reason))
	code := "no"
	minutes := g.between(5, 15)
	if v.adjusted {
		code, minutes = "yes", g.between(10, 22)+6*found
	}
	s.text(code)
	if g.chance(0.04 + c.gap) {
		minutes = missing
	}
	s.number(minutes)
	if g.chance(c.gap / 2) {
		talk = 0
	}
	s.list(talkCodes, talk)
	review := 0.02
	if hasUlcer(v) || (other != nil && hasUlcer(other)) {
		review = 0.45
	}
	s.text(g.unless(0.15, g.yes(review)))
	s.end()
	g.writeSpots(v)
	if other != nil {
		g.writeSpots(other)
	}
}

func hasUlcer(v *visit) bool {
	for _, s := range v.spots[:v.found] {
		if s.grade == 3 {
			return true
		}
	}
	return false
}

// writeSpots writes the sore spots of the visit written last.
func (g *generator) writeSpots(v *visit) {
	b, _ := bedOf(v.arch)
	for _, p := range v.spots[:v.found] {
		s := g.out.spots
		s.id('V', g.visits)
		s.text(v.arch)
		s.text(b.zones[p.zone])
		s.text(g.unless(0.02, sides[p.side]))
		s.number(int(p.grade))
		s.end()
	}
}
