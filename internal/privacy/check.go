package privacy

import (
	"math"
	"slices"
	"strings"
)

// Value is one distinct value of a column and how many rows hold it.
type Value struct {
	Text string
	Rows int64
}

// Span summarises a column's distinct values of one shape, in which every ASCII
// digit is a 9, every small ASCII letter an a and every capital an A. UUIDs and random
// tokens have shapes of their own.
type Span struct {
	Shape          string
	Distinct, Rows int64
	Min, Max       string // by bytes
}

// Column is a column of an export as the checks see it. Spans cover every value.
// Values need hold only those of the spans that Suspects asks for.
type Column struct {
	Table, File, Name string
	InContract        bool // the contract has it: its name says nothing of its content
	Pseudonym         bool // holds keys of patients: they must not count like charts
	Period            bool // the contract's own period: under no stated basis only remarked on
	Spans             []Span
	Values            []Value
}

// Finding is something in a column that may identify people. It holds no value.
type Finding struct {
	Table   string `json:"table"`
	File    string `json:"file"`
	Column  string `json:"column"`
	Kind    Kind   `json:"kind"`
	Found   string `json:"found"` // the kind in words, and what gave it away
	Rows    int64  `json:"rows"`
	Example string `json:"example"` // the shape of one value, never the value
	Remedy  string `json:"remedy"`
	Stops   bool   `json:"stops"`            // a load is refused
	Turned  bool   `json:"turned,omitempty"` // read, but a mapping leaves of it only what the basis allows
}

// Suspects lists the shapes whose values Check must see. The others can hold
// nothing that the checks look for: short codes, running numbers, because no
// number with a check digit is followed by the next, random UUIDs and tokens.
func Suspects(c Column) []string {
	speaks, _ := c.header()
	var list []string
	for _, s := range c.Spans {
		if len(speaks) > 0 || !harmless(s) {
			list = append(list, s.Shape)
		}
	}
	return list
}

func (c Column) header() (speaks, clears []Kind) {
	if c.InContract {
		return nil, nil
	}
	return headerKinds(c.Name)
}

// harmless reports short codes (at most three letters, then at most eight digits),
// running numbers behind letters, UUIDs that nobody was turned into, and random tokens.
func harmless(s Span) bool {
	if s.Shape == drawnUUID || ofTokens(s.Shape) {
		return true
	}
	letters := strings.TrimRight(s.Shape, "9")
	digits := len(s.Shape) - len(letters)
	prefix := strings.TrimRight(letters, "-_")
	if strings.Trim(prefix, "Aa") != "" || len(letters)-len(prefix) > 1 {
		return false
	}
	switch {
	case digits == 0:
		return len(letters) < 3 && prefix == letters
	case len(prefix) == 0:
		return len(letters) == 0 && digits < 8
	case len(prefix) <= 3 && digits < 8:
		return true
	}
	first, last, ok := s.ends(digits)
	return ok && float64(s.Distinct) >= dense*(last-first+1)
}

// dense is the share of a running number's range that must be used. House rule:
// an export that numbers its own rows leaves few gaps.
const dense = 0.9

// ends gives a span's first and last number when all share what stands before.
func (s Span) ends(digits int) (first, last float64, ok bool) {
	if digits == 0 || digits > 18 || len(s.Min) != len(s.Shape) || len(s.Max) != len(s.Shape) {
		return 0, 0, false
	}
	cut := len(s.Shape) - digits
	return number(s.Min[cut:]), number(s.Max[cut:]), s.Min[:cut] == s.Max[:cut]
}

func number(digits string) float64 {
	n := 0.0
	for _, r := range digits {
		n = n*10 + float64(r-'0')
	}
	return n
}

// tally counts what the values of one column look like for one kind.
type tally struct {
	sureRows, rows int64 // rows with a sure hit; rows with any
	distinct       int64
	example        string
	sureExample    string
	tags           map[string]*tag
}

// tag counts one rule's hits. For check digits, seen counts the candidates.
type tag struct {
	seen, passed, rows int64
	chance             float64
	example            string
	sureRows           int64 // rows with a number that would be sure by itself
	sureExample        string
}

// sure reports that the numbers which would be sure by themselves are. Where they are some of
// many candidates, as among random keys, they have to be more than pass by chance. House rule.
func (g *tag) sure() bool { return g.sureRows > 0 && g.seen < manyCandidates }

// manyCandidates is from how many candidates on a check digit that is right now and then
// says nothing.
const manyCandidates = 50

// Check judges one column under a basis. Findings come in the order of Kinds.
func Check(b Basis, c Column) []Finding {
	speaks, clears := c.header()
	tallies := map[Kind]*tally{}
	wordlike, keys := int64(0), keysOf(c)
	for _, v := range c.Values {
		if named(v.Text) {
			wordlike++
		}
		count(tallies, v, slices.DeleteFunc(classify(v.Text), func(h hit) bool { return h.sure && h.chance > 0 && keys.oneOf(v.Text) }))
		for _, k := range speaks {
			if plausible(k, v.Text) {
				count(tallies, v, []hit{{kind: k, tag: "header"}})
			}
		}
	}
	var findings []Finding
	for _, k := range Kinds() {
		if k == ChartNumber && c.Pseudonym {
			findings = append(findings, c.sequence(b)...)
		}
		t := tallies[k]
		if t == nil || slices.Contains(clears, k) && (k != Name || t.sureRows == 0) { // a person in "product name" is one all the same
			continue
		}
		if rows, example, why := t.judge(k, keys, c.distinct(), wordlike, slices.Contains(speaks, k)); rows > 0 {
			findings = append(findings, c.finding(b, k, rows, example, why)...)
		}
	}
	return findings
}

// keyLengths counts values of letters and digits alone by their length.
type keyLengths map[int]keyLength

// keyLength is how many have both, how many of these look drawn at random, and how many are
// of digits alone.
type keyLength struct{ mixed, drawn, digits int64 }

func keysOf(c Column) keyLengths {
	keys := keyLengths{}
	for _, s := range c.Spans { // tokens are among the values only where they were asked for
		if ofTokens(s.Shape) {
			keys[len(s.Shape)] = keyLength{mixed: s.Distinct, drawn: s.Distinct}
		}
	}
	for _, v := range c.Values {
		text := []byte(v.Text)
		t := turnsOf(text)
		if !t.plain || t.digits == 0 || t.ofToken(text) {
			continue
		}
		n := keys[len(text)]
		if t.digits == len(text) {
			n.digits++
		} else {
			n.mixed++
		}
		if t.taken >= fewestHexTurns {
			n.drawn++
		}
		keys[len(text)] = n
	}
	return keys
}

// oneOf reports a value of digits alone among a hundred times as many of its length that have
// letters as well: a random key in hexadecimal digits, of which now and then one has none
// above 9. House rule.
func (k keyLengths) oneOf(text string) bool {
	t := look(text)
	n := k[t.runes]
	return t.digits == t.runes && n.mixed >= 100*n.digits
}

// byChance reports numbers of a scheme of which about as many are to be expected among so
// many random keys of their length: one for every twenty that are there. House rule.
func (k keyLengths) byChance(scheme string, g *tag) bool {
	keys := k[len(g.example)]
	others := keys.drawn
	if turnsOf([]byte(g.example)).digits == len(g.example) {
		others = keys.digits - g.passed
	}
	return 20*formChance[scheme]*float64(others) > float64(g.passed)
}

func (c Column) distinct() (n int64) {
	for _, s := range c.Spans {
		n += s.Distinct
	}
	return n
}

// finding writes a finding unless the basis allows the kind.
func (c Column) finding(b Basis, k Kind, rows int64, example, why string) []Finding {
	lv := under(b, k)
	if lv == allowed {
		return nil
	}
	f := Finding{Table: c.Table, File: c.File, Column: SafeHeader(c.Name), Kind: k, Found: k.Words() + " (" + why + ")", Rows: rows, Example: Mask(example), Remedy: k.Remedy(), Stops: lv == stop}
	if c.Period && k == Date && !b.Known() {
		f.Stops, f.Remedy = false, "state the basis; under safe_harbor write the year only"
	}
	return []Finding{f}
}

// count adds a value's hits, each kind once.
func count(tallies map[Kind]*tally, v Value, hits []hit) {
	for i, h := range hits {
		t := tallies[h.kind]
		if t == nil {
			t = &tally{tags: map[string]*tag{}}
			tallies[h.kind] = t
		}
		if h.sure && h.chance == 0 {
			t.sureRows += v.Rows
			t.sureExample = keep(t.sureExample, v.Text)
			continue
		}
		g := t.tags[h.tag]
		if g == nil {
			g = &tag{chance: h.chance}
			t.tags[h.tag] = g
		}
		g.seen++
		if h.sure {
			g.sureRows += v.Rows
			g.sureExample = keep(g.sureExample, v.Text)
		}
		if h.chance > 0 && !h.passed {
			continue
		}
		g.passed++
		g.rows += v.Rows
		g.example = keep(g.example, v.Text)
		if i == 0 || hits[i-1].kind != h.kind {
			t.rows, t.distinct = t.rows+v.Rows, t.distinct+1
			t.example = keep(t.example, v.Text)
		}
	}
}

// keep prefers the example that is first by bytes, so that the order of the values
// does not show.
func keep(have, next string) string {
	if have == "" || next < have {
		return next
	}
	return have
}

// judge says how many rows of a column hold a kind, 0 when it is no finding.
func (t *tally) judge(k Kind, keys keyLengths, distinct, wordlike int64, spoken bool) (rows int64, example, why string) {
	rows, example = t.sureRows, t.sureExample
	for name, g := range t.tags {
		if g.sure() && !keys.byChance(name, g) {
			rows, example = rows+g.sureRows, keep(example, g.sureExample)
		}
	}
	if rows > 0 {
		return rows, example, "the shape of the values"
	}
	if g := t.tags["header"]; spoken && g != nil {
		return g.rows, g.example, "the header and the values"
	}
	for _, name := range sortedTags(t.tags) {
		g := t.tags[name]
		switch {
		case name == "header":
		case g.chance > 0:
			if !keys.byChance(name, g) && (surprising(g.passed, g.seen, g.chance) || outlier(g, distinct)) {
				return g.rows, g.example, "check digits or days that are right more often than by chance"
			}
		case enough(k, name, g, distinct, wordlike):
			return g.rows, g.example, "enough values of this kind"
		}
	}
	return 0, "", ""
}

func sortedTags(tags map[string]*tag) []string {
	names := make([]string, 0, len(tags))
	for n := range tags {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

// enough says whether values that are no finding alone are one together. The
// limits are house rules, set on the tuned half of the labelled columns.
func enough(k Kind, name string, g *tag, distinct, wordlike int64) bool {
	share := float64(g.passed) / float64(max(distinct, 1))
	switch {
	case k == Name && name == "listed":
		return float64(g.passed) >= 0.3*float64(wordlike)
	case k == Name && name == "comma":
		return g.passed >= 8 && share >= 0.6
	case k == Name:
		return g.passed >= 3 && share >= 0.6
	case k == FreeText: // a pick list repeats its entries
		return g.rows < 4*g.passed || g.passed > 60
	case k == Town:
		return g.passed >= 2 && float64(g.passed) >= 0.4*float64(wordlike)
	case k == Vehicle:
		return g.passed >= 3 && share >= 0.8
	}
	return g.passed >= 3 && share >= 0.6
}

// surprising reports that so many or more of n random numbers would pass with a
// probability below 1/100,000, by Chernoff's bound, and at least twice as many as by chance,
// which is known about so well.
func surprising(passed, n int64, chance float64) bool {
	p := float64(passed) / float64(n)
	if p < 2*chance {
		return false
	}
	divergence := p * math.Log(p/chance)
	if p < 1 {
		divergence += (1 - p) * math.Log((1-p)/(1-chance))
	}
	return float64(n)*divergence > math.Log(100_000)
}

// outlier reports a few numbers, all of which pass, in a column of other things.
func outlier(g *tag, distinct int64) bool {
	return g.chance <= 0.15 && distinct >= 10 && g.passed == g.seen && g.seen*10 <= distinct
}

// named reports a value of letters alone that could be a name.
func named(v string) bool {
	t := look(v)
	return t.digits == 0 && t.letters >= 3 && t.words <= 5
}
