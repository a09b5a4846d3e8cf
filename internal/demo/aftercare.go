package demo

// Base rates for a denture without any planted exposure. With the exposures and the
// case mix on top, the shares adjusted in weeks 1, 2 and 3 come near 87, 50 and 7 %
// (Kivovics 2007 Int J Prosthodont 20:397-401).
type pace struct {
	week [3]float64 // chance of an adjustment visit in weeks 1 to 3
	late float64    // mean number in days 22 to 88, spread by frailty
}

var (
	paceUpper = pace{[3]float64{0.83, 0.41, 0.045}, 0.08}
	paceLower = pace{[3]float64{0.90, 0.50, 0.065}, 0.17}
	// extraWeek is where the visits that exposures add fall: weeks 1, 2, 3, later.
	extraWeek = newMix([]float64{25, 33, 3, 39})
)

// Chances at an adjustment visit, and yearly rates, of the reference denture.
const (
	spotsPerVisit  = 0.95
	ulcerShare     = 0.045
	verticalTalk   = 0.015
	displayTalk    = 0.020
	otherTalk      = 0.16
	remakePerYear  = 0.034
	relinePerYear  = 0.040
	firstRemakeDay = 28 // after delivery
	unnamedArch    = 0.02
	mergedVisits   = 0.5 // of two visits of one case on one day
)

var (
	plannedMix   = mixOf("visits", "reason", 72, 20, 4, 4)
	complaintMix = mixOf("visits", "reason", 18, 62, 16, 4)
	talkCodes    = codesOf("visits", "complaints")
	talkMix      = mixOf("visits", "complaints", 0, 0, 30, 14, 18, 8, 0, 0, 0, 0, 4, 10, 16)
	scopeMix     = mixOf("remakes", "scope", 0, 76, 12, 12)
	causeMix     = mixOf("remakes", "cause", 36, 10, 14, 6, 16, 5, 4, 3, 6)
	copiedCauses = mixOf("remakes", "cause", 20, 48, 10, 4, 10, 2, 1, 1, 4)
	talkSore     = bitOf(talkCodes, "sore")
	talkNone     = bitOf(talkCodes, "none")
	talkTall     = bitOf(talkCodes, "too_tall")
	talkShort    = bitOf(talkCodes, "too_short")
	talkMuch     = bitOf(talkCodes, "shows_too_much")
	talkLittle   = bitOf(talkCodes, "shows_too_little")
)

// visit is one aftercare visit before it is written.
type visit struct {
	day      int
	arch     string
	reason   string
	adjusted bool
	talk     uint
	spots    [4]spot
	found    int
}

// spot is a sore spot of the visit's arch; small, because visits are copied about.
type spot struct {
	zone  uint8 // index into the zones of the arch's bed
	side  uint8 // index into sides
	grade uint8
}

// burden is what a denture's exposures multiply.
type burden struct{ visits, spots, vertical, display, remake float64 }

// burdenOf multiplies the ratios of story.go for one denture.
func burdenOf(c *course, d *denture) burden {
	b := burden{ratioClass[c.ridge], 1, 1, 1, 1}
	if d.oversized {
		b.visits *= ratioOversized
	}
	if c.freeway < freewayLowBelow {
		b.visits *= ratioLowVisits
		b.spots *= ratioLowSpots
		b.vertical *= ratioLowVertical
	}
	if c.copied {
		b.visits *= ratioCopiedVisits
		b.vertical *= ratioCopiedVertical
		b.remake *= ratioCopiedRemake
	}
	if d.partial {
		b.visits *= ratioPartialVisits
		b.spots *= ratioPartialSpots
	}
	if c.displayFar && d.arch == "upper" {
		b.display *= ratioDisplayFar
	}
	return b
}

// aftercare draws and writes everything after delivery.
func (g *generator) aftercare(c *course) {
	g.log, g.again = g.log[:0], remade{day: missing}
	for i := range c.dentures {
		d := &c.dentures[i]
		if d.delivered == missing {
			continue
		}
		b := burdenOf(c, d)
		g.remakes(c, d, b)
		from := len(g.log)
		g.come(c, d, b)
		g.persist(c, d, from)
	}
	g.sortLog()
	g.writeVisits(c)
}

// come draws the visits of one denture: the usual ones week by week, the ones that
// the exposures add, the planned check without a finding, and the yearly recall.
func (g *generator) come(c *course, d *denture, b burden) {
	p := paceUpper
	if d.arch == "lower" {
		p = paceLower
	}
	expected := p.late
	for week, share := range p.week {
		expected += share
		if g.chance(share) {
			g.adjust(c, d, b, week)
		} else if week == 0 && g.chance(0.6) {
			g.note(c, d, visit{day: g.between(2, 7), reason: "planned", talk: talkNone})
		}
	}
	for range g.poisson(min(p.late*c.frailty, 12)) {
		g.adjust(c, d, b, 3)
	}
	for range g.poisson(min((b.visits-1)*expected*c.frailty, 12)) {
		g.adjust(c, d, b, g.pick(extraWeek))
	}
	for year := 1; year <= 3; year++ {
		if g.chance(0.45) {
			g.note(c, d, visit{day: 365*year + g.between(-25, 25), reason: "planned", adjusted: g.chance(0.15), talk: talkNone})
		}
	}
}

// note keeps a visit whose day is counted from delivery, unless observation or the
// denture's life had ended by then.
func (g *generator) note(c *course, d *denture, v visit) {
	v.day += d.delivered
	v.arch = d.arch
	if v.day > c.observed || (d.remadeOn != missing && v.day >= d.remadeOn) {
		return
	}
	g.log = append(g.log, v)
}

// adjust draws one adjustment visit in a week (0 to 2) or later (3).
func (g *generator) adjust(c *course, d *denture, b burden, week int) {
	v := visit{adjusted: true}
	if week < 3 {
		v.day, v.reason = g.between(7*week+1, 7*week+7), g.code(plannedMix)
	} else {
		v.day, v.reason = g.between(22, 88), g.code(complaintMix)
	}
	for range min(g.poisson(spotsPerVisit*b.spots), len(v.spots)) {
		v.spots[v.found] = g.soreSpot(c, d.arch)
		v.found++
	}
	v.talk = g.talk(c, b, v.found > 0)
	g.note(c, d, v)
}

// talk draws what the patient complained of.
func (g *generator) talk(c *course, b burden, sore bool) uint {
	var bits uint
	if sore {
		bits = talkSore
	}
	if g.chance(verticalTalk * b.vertical) {
		if c.freeway > 3.5 {
			bits |= talkShort
		} else {
			bits |= talkTall
		}
	}
	if g.chance(displayTalk * b.display) {
		if g.chance(0.5) {
			bits |= talkMuch
		} else {
			bits |= talkLittle
		}
	}
	if g.chance(otherTalk) {
		bits |= 1 << g.pick(talkMix.mix)
	}
	if bits == 0 {
		bits = talkNone
	}
	return bits
}

// remakes draws and writes relines and their like, and the remake that ends the
// denture's time at risk. No denture is remade in its first four weeks.
func (g *generator) remakes(c *course, d *denture, b burden) {
	first := d.delivered + firstRemakeDay
	if day := first + int(g.ExpFloat64()*365/(remakePerYear*b.remake)); day <= c.observed {
		d.remadeOn = day
		g.again = remade{d.arch, day}
	}
	if day := first + int(g.ExpFloat64()*365/relinePerYear); day <= c.observed && (d.remadeOn == missing || day < d.remadeOn) {
		g.writeRemake(c, d.arch, day, g.code(scopeMix))
	}
	if d.remadeOn != missing {
		g.writeRemake(c, d.arch, d.remadeOn, "remake")
	}
}

func (g *generator) writeRemake(c *course, arch string, day int, scope string) {
	causes := causeMix
	if c.copied && scope == "remake" {
		causes = copiedCauses
	}
	s := g.out.remakes
	s.id('C', c.id)
	s.text(arch)
	s.number(day)
	s.text(scope)
	s.text(g.unless(c.gap, g.code(causes)))
	s.end()
}
