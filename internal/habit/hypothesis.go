package habit

import (
	"slices"
	"sync"
)

// Kind says what a hypothesis compares.
type Kind string

// A habit is there or not; a quantity is in millimetres.
const (
	OfHabit    Kind = "habit"
	OfQuantity Kind = "quantity"
)

// Direction is what is expected of dentures with the habit, or with more of the
// quantity.
type Direction string

// More and fewer of the outcome; either where no side is expected.
const (
	More   Direction = "more"
	Fewer  Direction = "fewer"
	Either Direction = "either"
)

// Hypothesis is one way of taking records, or one measured quantity, beside one
// outcome, with the reason to look at the two together.
type Hypothesis struct {
	ID        string
	Exposure  string // a habit's id, or the column of linked_dentures that holds the quantity
	Kind      Kind
	Outcome   string // as the findings and linked tables name it; also its node in the diagram
	Direction Direction
	Mechanism string // one sentence
	Source    string
	Stated    bool // stated in advance; otherwise exploratory
	Control   bool // negative control: no arrow leads from the exposure to the outcome
	ByArch    bool // to be shown for upper and lower dentures apart as well
}

// Column is the column of linked_dentures that holds the exposure.
func (h Hypothesis) Column() string {
	if h.Kind == OfQuantity {
		return h.Exposure
	}
	return Habit{ID: h.Exposure}.Column()
}

// Node is the exposure's node in the causal diagram, "" if it has none.
func (h Hypothesis) Node() string { return Causes.Holding(h.Column()) }

// Adjust returns the nodes to adjust for, derived from the causal diagram and from
// nothing else: see Diagram.AdjustmentSet. Nil where nothing measured would do; a
// test shows that no hypothesis of the catalogue is such a one.
func (h Hypothesis) Adjust() []string {
	pair := [2]string{h.Node(), h.Outcome}
	if set, ok := derived.Load(pair); ok {
		return slices.Clone(set.([]string))
	}
	set, err := Causes.AdjustmentSet(pair[0], pair[1])
	if err != nil {
		return nil
	}
	derived.Store(pair, set)
	return slices.Clone(set)
}

// derived keeps the sets that Adjust has worked out: node and outcome to []string.
var derived sync.Map

// strata are adjusted for by comparing within them, not by a term in a model.
var strata = []string{"clinician", "arch"}

// Columns returns the columns of linked_dentures to adjust by, one for each node of
// Adjust; clinician and arch, which are strata, are left out.
func (h Hypothesis) Columns() []string {
	out := []string{}
	for _, id := range h.Adjust() {
		if n, _ := Causes.Node(id); !slices.Contains(strata, id) {
			out = append(out, n.Columns[0])
		}
	}
	return out
}

// Within reports whether the diagram asks for a comparison within that stratum,
// "clinician" or "arch".
func (h Hypothesis) Within(stratum string) bool {
	return slices.Contains(strata, stratum) && slices.Contains(h.Adjust(), stratum)
}

// FindHypothesis returns the hypothesis of that id.
func FindHypothesis(id string) (Hypothesis, bool) {
	i := slices.IndexFunc(Hypotheses, func(h Hypothesis) bool { return h.ID == id })
	if i < 0 {
		return Hypothesis{}, false
	}
	return Hypotheses[i], true
}

// Assumed returns what has been left out of the diagram and would matter to this
// hypothesis, one sentence each.
func (h Hypothesis) Assumed() []string {
	out := []string{}
	for _, l := range LeftOut {
		if l.Node == h.Node() {
			out = append(out, l.Sentence)
		}
	}
	return out
}

// claim is a reason that holds for several outcomes.
type claim struct {
	exposure  string
	kind      Kind
	outcomes  []string
	direction Direction
	stated    bool
	why       string // keys in the catalogue
	source    string
}

// byArch are the outcomes in which upper and lower dentures differ in every series.
var byArch = []string{"adjustment_visits", "early_sore_spots", "any_ulcer", "reline"}

// spread turns claims into hypotheses, one for each outcome.
func spread(control bool, claims []claim) []Hypothesis {
	var out []Hypothesis
	for _, c := range claims {
		for _, o := range c.outcomes {
			out = append(out, Hypothesis{ID: c.exposure + "." + o, Exposure: c.exposure, Kind: c.kind, Outcome: o, Direction: c.direction,
				Mechanism: text("why.*", c.why), Source: text("source.*", c.source), Stated: c.stated, Control: control, ByArch: slices.Contains(byArch, o)})
		}
	}
	return out
}
