package demo

import "math"

// readingSD is the error of one reading of a vertical in millimetres; domain texts
// put it at 0.5 to 1.0 (common practice, no source).
const readingSD = 0.7

// writeTrays draws and writes the tray of each arch, and what it does to the true
// freeway space of the case.
func (g *generator) writeTrays(c *course) {
	c.freeway = g.normal(2.9, 1.0)
	for i := range c.dentures {
		d := &c.dentures[i]
		share := c.who.oversized
		if c.who.site == retrainedSite {
			share = oversizedBeforeShare
			if c.start >= retrainedFromDay {
				share = oversizedAfterShare
			}
		}
		d.oversized, d.partial = g.chance(share), g.chance(c.who.partial)
		g.writeTray(c, d)
		if d.arch == "upper" && d.palate > bulkFree {
			c.freeway -= freewayEatenPerBulk * (d.palate - bulkFree)
		}
	}
}

// clearance draws least and most space in tenths of a millimetre, in half
// millimetres as a probe reads them.
func (g *generator) clearance(oversized bool) (least, most tenths) {
	switch {
	case oversized:
		least = tenths(5 * g.between(2, 4))
		most = max(25, least+tenths(5*g.between(1, 5)))
	case g.chance(0.10):
		least = 5
		most = tenths(5 * g.between(2, 3))
	default:
		least = tenths(5 * g.between(2, 3))
		most = min(20, least+tenths(5*g.between(0, 2)))
	}
	return least, most
}

func (g *generator) writeTray(c *course, d *denture) {
	least, most := g.clearance(d.oversized)
	tight := least < 10
	palate := tenths(missing)
	if d.arch == "upper" {
		d.palate = within(g.normal(2.1+1.1*(float64(most)/10-1.5), 0.5), 1, 8)
		palate = toStep(d.palate, 5)
	}
	sizes := sizeMix
	if d.oversized {
		sizes = bigSizeMix
	}
	sized := "eye"
	if !g.chance(c.who.eye) {
		sized = g.code(sizedMix)
	}
	s := g.out.trays
	s.id('C', c.id)
	s.text(d.arch)
	s.text(g.unless(c.gap/2, g.code(sizes)))
	s.text(g.unless(c.gap, sized))
	if g.chance(c.gap) {
		least, most = missing, missing
	}
	s.length(least)
	s.length(most)
	if g.chance(c.gap * 2) {
		palate = missing
	}
	s.length(palate)
	seating := "full"
	if d.partial {
		seating = "partial"
	}
	s.text(g.unless(c.gap, seating))
	s.list(touchCodes, g.touches(c, d, tight))
	discomfort := 0.05
	if tight {
		discomfort = 0.12
	}
	s.text(g.unless(c.gap, g.yes(discomfort)))
	tries := 1
	if !g.chance(c.who.firstTry) {
		tries = g.between(2, 3)
	}
	s.number(tries)
	s.text(g.unless(c.gap/2, g.code(techMix)))
	s.end()
}

// touches draws where the tray touched, as bits over the contract's codes; no bits
// mean that it was not written down.
func (g *generator) touches(c *course, d *denture, tight bool) uint {
	if g.chance(c.gap) {
		return 0
	}
	var bits uint
	touch := func(code string, p float64) {
		if g.chance(p) {
			bits |= bitOf(touchCodes, code)
		}
	}
	hard := 0.03
	if tight {
		hard = 0.14
	}
	if d.arch == "upper" {
		touch("tuberosity", hard)
		palate := 0.03
		if d.oversized {
			palate = 0.20
		}
		touch("soft_palate", palate)
	} else {
		touch("retromolar", 0.04)
		touch("tongue", 0.03)
	}
	touch("ridge", hard)
	touch("frenum", 0.04)
	touch("border", 0.05)
	if bits == 0 {
		bits = bitOf(touchCodes, "none")
	}
	return bits
}

// bitOf is the bit of a code in a list, 0 where the list does not have it.
func bitOf(codes []string, code string) uint {
	for i, c := range codes {
		if c == code {
			return 1 << i
		}
	}
	return 0
}

// vertical decides the vertical of occlusion: its basis and the true freeway space
// that comes of it. A copied unsound vertical leaves too much space or too little.
func (g *generator) vertical(c *course) (basis string) {
	copies := 0.0
	switch c.prior {
	case "sound":
		copies = 0.55
	case "unsound":
		copies = c.who.copies
	case "unknown":
		copies = 0.25
	}
	switch {
	case g.chance(copies):
		basis = "existing_denture"
	case g.chance(0.03):
		basis = "other"
	default:
		basis = "rest_minus_freeway"
	}
	c.copied = basis == "existing_denture" && c.prior == "unsound"
	if c.copied {
		c.freeway = g.normal(5.2, 1.3)
		if g.chance(0.25) {
			c.freeway = g.normal(1.2, 0.8)
		}
	}
	return basis
}

// writeRecords draws the records appointment and writes it with its single readings.
func (g *generator) writeRecords(c *course) {
	basis := g.vertical(c)
	rest := within(g.normal(68, 4.2), 52, 84)
	noRest := c.who.noRest
	if basis == "existing_denture" {
		noRest += 0.25
	}
	vdr, vdo := tenths(missing), tenths(missing)
	if !g.chance(noRest) {
		vdr = g.measure(c, "vdr", rest, c.who.roundsTo, c.who.repeats)
	}
	if !g.chance(c.gap / 2) {
		vdo = g.measure(c, "vdo", rest-within(c.freeway, -2, 9), c.who.roundsTo, c.who.repeats)
	}
	s := g.out.records
	s.id('C', c.id)
	s.length(vdr)
	s.length(vdo)
	s.length(g.writtenFreeway(vdr, vdo))
	s.text(g.unless(c.gap, basis))
	restMethod, dentureIn := g.unless(c.gap, g.code(restMix)), g.unless(c.gap, g.yes(0.25))
	if vdr == missing {
		restMethod, dentureIn = "", ""
	}
	s.text(restMethod)
	s.text(g.unless(c.gap, g.code(landMix)))
	s.text(dentureIn)
	g.writeLip(c)
	s.text(g.unless(c.gap, g.code(centricMix)))
	takes := 1
	if !g.chance(c.who.oneTake) {
		takes = g.between(2, 3)
	}
	if g.chance(c.gap) {
		takes = missing
	}
	s.number(takes)
	s.end()
}

// writtenFreeway is the freeway space that three in ten records write down beside
// the verticals; one in twenty of those does not add up.
func (g *generator) writtenFreeway(vdr, vdo tenths) tenths {
	if vdr == missing || vdo == missing || !g.chance(0.30) {
		return missing
	}
	if g.chance(0.05) {
		return max(vdr-vdo, 0) + 10
	}
	return vdr - vdo
}

// measure reads a length one to three times and gives the mean of the takes, rounded
// as the clinician rounds; for some cases the single readings are written too.
func (g *generator) measure(c *course, what string, truth float64, step int, repeats float64) tenths {
	takes, sum := 1, 0.0
	kept := g.chance(repeats)
	if kept {
		takes = g.between(2, 3)
	}
	for take := 1; take <= takes; take++ {
		value := toStep(truth+readingSD*g.NormFloat64(), step)
		sum += float64(value) / 10
		if !kept {
			continue
		}
		s := g.out.readings
		s.id('C', c.id)
		s.text(what)
		s.number(take)
		s.length(value)
		s.text("")
		s.end()
	}
	return toStep(sum/float64(takes), step)
}

// writeLip writes the two cells of lip length and display target. The target follows
// the lip as read in Vig and Brundo 1978 (from memory; natural teeth), with the
// clinician's own eye on top, or is defaultDisplay.
func (g *generator) writeLip(c *course) {
	lip := within(g.normal(21, 3.6), 8, 34)
	s := g.out.records
	noted := tenths(missing)
	if !g.chance(c.who.noLip) {
		noted = g.measure(c, "lip", lip, 5, 0.05)
	}
	s.length(noted)
	if noted != missing {
		lip = float64(noted) / 10
	}
	suggested := displayFor(lip)
	target := suggested + g.normal(0, 0.6)
	if c.who.fixedDisplay {
		target = defaultDisplay
	}
	asked := toStep(within(target, -1, 6), 5)
	c.displayFar = math.Abs(float64(asked)/10-suggested) >= displayFarFrom
	if g.chance(c.gap) {
		asked = missing
	}
	s.length(asked)
}

// displayFor is the upper display at rest, in millimetres, by lip length in
// millimetres: Vig and Brundo 1978, from memory.
func displayFor(lip float64) float64 {
	switch {
	case lip < 15.5:
		return 3.92
	case lip < 20.5:
		return 3.44
	case lip < 25.5:
		return 2.18
	case lip < 30.5:
		return 0.93
	}
	return 0.25
}
