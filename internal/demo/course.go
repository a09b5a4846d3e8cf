package demo

// Mixes of the recorded choices, weights in the order of the contract's codes.
var (
	labMix     = newMix([]float64{5, 3, 2})
	labs       = []string{"L1", "L2", "L3"}
	ageMix     = mixOf("cases", "age_band", 6, 14, 27, 32, 18, 3)
	sexMix     = mixOf("cases", "sex", 54, 44, 1, 1)
	priorMix   = mixOf("cases", "prior_denture", 18, 38, 38, 6)
	endMix     = mixOf("cases", "observed_end", 0, 45, 45, 10)
	baseMix    = mixOf("dentures", "base_method", 50, 18, 12, 14, 2, 4)
	schemeMix  = mixOf("dentures", "scheme", 50, 32, 12, 2, 4)
	restMix    = mixOf("records", "rest_method", 36, 40, 12, 5, 2, 5)
	landMix    = mixOf("records", "landmarks", 55, 38, 3, 4)
	centricMix = mixOf("records", "centric_method", 22, 62, 9, 3, 4)
	sizeMix    = mixOf("trays", "size", 18, 42, 30, 10)
	bigSizeMix = mixOf("trays", "size", 4, 22, 48, 26)
	sizedMix   = mixOf("trays", "sized_by", 45, 50, 0, 5)
	techMix    = mixOf("trays", "technique", 62, 30, 5, 3)
	touchCodes = codesOf("trays", "touches")
)

// frailtyShape is the gamma shape of a patient's own proneness to come back, chosen
// so that the visits of a patient have about twice the variance of their mean.
const frailtyShape = 0.32

// leavingPerDay is the chance a day of dying, moving away or being discharged.
const leavingPerDay = 0.07 / 365

// course is one case: what is written in cases and records, and what drives its
// aftercare without being written.
type course struct {
	id, patient, remakeOf int
	who                   *clinician
	start                 int // days from firstDay
	lab, age, sex         string
	prior, kind           string
	ridge                 int // true class, 1 to 4
	end                   string
	observed              int
	frailty               float64
	gap                   float64
	freeway               float64 // true, mm
	copied, displayFar    bool
	dentures              []denture
}

// denture is one arch of a case with its tray.
type denture struct {
	arch      string
	delivered int // missing = not delivered
	oversized bool
	partial   bool
	palate    float64 // mm, upper only
	remadeOn  int     // missing = not remade
}

// generator writes patients one after the other; its slices are reused.
type generator struct {
	dice
	out    *sheets
	staff  []clinician
	limit  int // cases to write
	cases  int // cases written
	visits int // visits written
	store  [2]denture
	log    []visit
	again  remade
}

// remade tells of a remake that may become a case of its own.
type remade struct {
	arch string
	day  int // in the first case's days; missing = none
}

// patient writes one patient's case, and a second one for those who come again: a
// later replacement (about 3 %) or the remake of one arch.
func (g *generator) patient(number int) {
	c := course{patient: number, who: g.carer(), start: g.IntN(lastStart + 1), frailty: g.gamma(frailtyShape)}
	g.person(&c)
	replaced := missing
	if g.chance(0.04) {
		replaced = g.between(400, 800)
	}
	g.follow(&c, replaced)
	g.bothArches(&c)
	g.write(&c)
	second := c
	switch {
	case g.cases >= g.limit:
	case g.again.day != missing && g.chance(0.6):
		g.remakeCase(&second)
	case replaced != missing && c.observed == replaced && c.start+replaced <= lastStart:
		second.start, second.kind, second.prior = c.start+replaced, "replacement", "sound"
		g.follow(&second, missing)
		g.bothArches(&second)
		g.write(&second)
	}
}

// carer picks who takes the patient's records. With one service no number is drawn for
// the service, so that its bundles stay as they are.
func (g *generator) carer() *clinician {
	i := g.pick(caseload)
	if services := len(g.staff) / len(clinicians); services > 1 {
		i += g.IntN(services) * len(clinicians)
	}
	return &g.staff[i]
}

// remakeCase writes the case that remakes one arch of the one before: its records
// are taken some weeks before the new denture replaces the old one.
func (g *generator) remakeCase(c *course) {
	lead := g.between(9, 18)
	c.start += g.again.day - lead
	if c.start > lastStart {
		return
	}
	c.remakeOf, c.kind, c.prior = c.id, "remake", "unsound"
	c.observed, c.dentures = c.observed-g.again.day+lead, g.store[:1]
	c.dentures[0] = denture{arch: g.again.arch, delivered: lead, remadeOn: missing}
	g.write(c)
}

// person draws who the patient is, and the case mix of the site.
func (g *generator) person(c *course) {
	c.gap = c.who.gaps
	c.lab, c.age, c.sex = labs[g.pick(labMix)], g.code(ageMix), g.code(sexMix)
	for i := range ridgeMix {
		if ridgeMix[i].site == c.who.like {
			c.ridge = 1 + g.pick(ridgeMix[i].mix)
		}
	}
	c.prior = g.code(priorMix)
	switch {
	case c.prior != "none":
		c.kind = "replacement"
	case g.chance(0.3):
		c.kind = "immediate"
	default:
		c.kind = "first"
	}
}

// follow draws how long the case is observed and why that ends. A replacement by new
// dentures discharges the old ones.
func (g *generator) follow(c *course, replaced int) {
	c.observed, c.end = exportDay-c.start, "export"
	if day := int(g.ExpFloat64() / leavingPerDay); day < c.observed {
		c.observed, c.end = day, g.code(endMix)
	}
	if replaced != missing && replaced < c.observed && c.start+replaced <= lastStart {
		c.observed, c.end = replaced, "discharged"
	}
}

// bothArches draws which dentures are made and when they are delivered.
func (g *generator) bothArches(c *course) {
	c.dentures = g.store[:0]
	dropped := g.chance(0.02)
	day := g.between(14, 70)
	single := g.Float64()
	for _, arch := range codesOfArch {
		if (arch == "upper" && single >= 0.99) || (arch == "lower" && single < 0.06) {
			continue
		}
		d := denture{arch: arch, delivered: day, remadeOn: missing}
		if g.chance(0.04) {
			d.delivered += g.between(3, 14)
		}
		if dropped || g.chance(0.005) || d.delivered > c.observed {
			d.delivered = missing
		}
		c.dentures = append(c.dentures, d)
	}
}

var codesOfArch = codesOf("dentures", "arch")

// write gives the case its number and writes all its rows.
func (g *generator) write(c *course) {
	g.cases++
	c.id = g.cases
	g.writeCase(c)
	g.writeTrays(c)
	g.writeRecords(c)
	g.writeDentures(c)
	g.aftercare(c)
}

func (g *generator) writeCase(c *course) {
	s := g.out.cases
	s.id('C', c.id)
	s.id('P', c.patient)
	s.text(c.who.site)
	s.text(c.who.code)
	s.text(g.unless(0.01, c.lab))
	s.text(months[c.start])
	s.text(g.unless(c.gap/4, c.age))
	s.text(c.sex)
	if g.chance(0.05 + c.gap) {
		s.number(missing)
	} else {
		s.number(c.ridge)
	}
	s.text(g.unless(c.gap/2, c.prior))
	s.text(c.kind)
	s.text(c.who.operator)
	s.id('C', c.remakeOf)
	s.number(c.observed)
	s.text(c.end)
	s.end()
}

func (g *generator) writeDentures(c *course) {
	for i := range c.dentures {
		d, s := &c.dentures[i], g.out.dentures
		s.id('C', c.id)
		s.text(d.arch)
		s.number(d.delivered)
		s.text(g.unless(c.gap, g.code(baseMix)))
		s.text(g.unless(c.gap, g.code(schemeMix)))
		remount := g.yes(1 - c.who.noRemount)
		if d.delivered == missing {
			remount = ""
		}
		s.text(g.unless(c.gap, remount))
		s.end()
	}
}
