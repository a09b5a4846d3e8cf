package habit

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// drawn reads a diagram from "a>b a>c"; nodes whose name starts with U are not measured.
func drawn(arrows string) Diagram {
	var d Diagram
	add := func(id string) {
		if _, ok := d.Node(id); !ok {
			d.Nodes = append(d.Nodes, Node{ID: id, Measured: !strings.HasPrefix(id, "U")})
		}
	}
	for _, a := range strings.Fields(arrows) {
		from, to, _ := strings.Cut(a, ">")
		add(from)
		add(to)
		d.Edges = append(d.Edges, Edge{From: from, To: to})
	}
	return d
}

// Published examples, all quoted from memory of the named source.
var published = []struct {
	name, arrows string
	x, y         string
	given        []string
	separated    bool
}{
	// Pearl 2009, Causality, figure 1.2 and section 1.2.3: season, sprinkler, rain, wet, slippery.
	{"sprinkler given season", "season>rain season>sprinkler rain>wet sprinkler>wet wet>slippery", "sprinkler", "rain", ids("season"), true},
	{"sprinkler given season and slippery", "season>rain season>sprinkler rain>wet sprinkler>wet wet>slippery", "sprinkler", "rain", ids("season", "slippery"), false},
	{"sprinkler given nothing", "season>rain season>sprinkler rain>wet sprinkler>wet wet>slippery", "sprinkler", "rain", nil, false},
	{"season and slippery given wet", "season>rain season>sprinkler rain>wet sprinkler>wet wet>slippery", "season", "slippery", ids("wet"), true},
	// Koller & Friedman 2009, figure 3.3, the student: difficulty, intelligence, grade, SAT, letter.
	{"student D and S", "D>G I>G I>S G>L", "D", "S", nil, true},
	{"student D and S given L", "D>G I>G I>S G>L", "D", "S", ids("L"), false},
	{"student D and S given L and I", "D>G I>G I>S G>L", "D", "S", ids("L", "I"), true},
	{"student I and L given G", "D>G I>G I>S G>L", "I", "L", ids("G"), true},
	{"student I and D given G", "D>G I>G I>S G>L", "I", "D", ids("G"), false},
	// Pearl, Glymour & Jewell 2016, Causal Inference in Statistics: A Primer, figure 2.7:
	// two chains that meet in W, which has a child of its own.
	{"primer Z and Y", "Z>W X>W X>Y W>V", "Z", "Y", nil, true},
	{"primer Z and Y given W", "Z>W X>W X>Y W>V", "Z", "Y", ids("W"), false},
	{"primer Z and Y given V", "Z>W X>W X>Y W>V", "Z", "Y", ids("V"), false},
	{"primer Z and Y given W and X", "Z>W X>W X>Y W>V", "Z", "Y", ids("W", "X"), true},
	// Greenland, Pearl & Robins 1999, Epidemiology 10:37-48: two unrecorded causes meet in C.
	{"M without C", "A>C B>C A>E B>D", "E", "D", nil, true},
	{"M given C", "A>C B>C A>E B>D", "E", "D", ids("C"), false},
	{"M given C and A", "A>C B>C A>E B>D", "E", "D", ids("C", "A"), true},
	// Lauritzen & Spiegelhalter 1988, JRSS B 50:157: the chest clinic.
	{"clinic asia and smoking", asia, "asia", "smoke", nil, true},
	{"clinic asia and smoking given x-ray", asia, "asia", "smoke", ids("xray"), false},
	{"clinic x-ray and dyspnoea given either", asia, "xray", "dysp", ids("either"), true},
	{"clinic tuberculosis and smoking given dyspnoea", asia, "tub", "smoke", ids("dysp"), false},
	{"clinic tuberculosis and bronchitis given either and smoking", asia, "tub", "bronc", ids("either", "smoke"), true},
}

const asia = "asia>tub smoke>lung smoke>bronc tub>either lung>either either>xray either>dysp bronc>dysp"

func TestSeparatedAgainstPublishedExamples(t *testing.T) {
	for _, c := range published {
		d := drawn(c.arrows)
		assert.Equal(t, c.separated, d.Separated(c.x, c.y, c.given), c.name)
		assert.Equal(t, c.separated, d.Separated(c.y, c.x, c.given), "%s, turned round", c.name)
	}
	d := drawn("a>b")
	assert.False(t, d.Separated("a", "a", nil), "nothing is separated from itself")
	assert.True(t, d.Separated("a", "b", ids("b")))
}

// Pearl 2009, Causality, figure 3.4 and section 3.3.1 (from memory): {X3, X4} and
// {X4, X5} are fit, {X4} and {X6} are not.
const backDoor = "X1>X3 X1>X4 X2>X4 X2>X5 X3>Xi X4>Xi X4>Xj X5>Xj Xi>X6 X6>Xj"

func TestBackDoorAgainstPublishedExamples(t *testing.T) {
	d := drawn(backDoor)
	assert.True(t, d.BackDoorBlocked("Xi", "Xj", ids("X3", "X4")))
	assert.True(t, d.BackDoorBlocked("Xi", "Xj", ids("X4", "X5")))
	assert.False(t, d.BackDoorBlocked("Xi", "Xj", ids("X4")))
	assert.False(t, d.BackDoorBlocked("Xi", "Xj", nil))
	assert.False(t, d.BackDoorBlocked("Xi", "Xj", ids("X3", "X4", "X6")), "X6 lies on the way")
	assert.False(t, d.BackDoorBlocked("Xi", "Xj", ids("X3", "X4", "Xi")))

	m := drawn("U1>C U2>C U1>E U2>D E>D")
	assert.True(t, m.BackDoorBlocked("E", "D", nil), "M: nothing to adjust for")
	assert.False(t, m.BackDoorBlocked("E", "D", ids("C")), "M: adjusting opens the path")
	set, err := m.AdjustmentSet("E", "D")
	require.NoError(t, err)
	assert.Empty(t, set)
}

func TestAdjustmentSetRule(t *testing.T) {
	set, err := drawn(backDoor).AdjustmentSet("Xi", "Xj")
	require.NoError(t, err)
	assert.Equal(t, ids("X1", "X4"), set, "nodes as first named: X1 X3 Xi X4 X2 X5; X5, X2 and X3 go in turn, X4 cannot")
	_, err = drawn("U>x U>y x>y").AdjustmentSet("x", "y")
	require.ErrorIs(t, err, ErrNoAdjustment, "a hidden common cause")
	_, err = drawn("y>x").AdjustmentSet("x", "y")
	require.ErrorIs(t, err, ErrNoAdjustment, "the outcome comes first")
	_, err = drawn("x>y").AdjustmentSet("x", "nowhere")
	require.ErrorContains(t, err, "nowhere")
	set, err = drawn("c>x c>y x>m m>y").AdjustmentSet("x", "y")
	require.NoError(t, err)
	assert.Equal(t, ids("c"), set)
	set, err = drawn("m>y c>x c>m x>m").AdjustmentSet("x", "y")
	require.NoError(t, err)
	assert.Equal(t, ids("c"), set, "m would block as well and stands first, but comes after x")
}

func TestDiagramCheck(t *testing.T) {
	require.NoError(t, drawn("a>b b>c a>c").Check())
	require.ErrorContains(t, drawn("a>b b>c c>a").Check(), "leads back")
	require.ErrorContains(t, drawn("a>a").Check(), "leads back")
	require.ErrorContains(t, drawn("a>b a>b").Check(), "twice")
	d := drawn("a>b")
	d.Edges = append(d.Edges, Edge{From: "a", To: "z"})
	require.ErrorContains(t, d.Check(), "names no node")
	d = drawn("a>b")
	d.Nodes = append(d.Nodes, Node{ID: "a"})
	require.ErrorContains(t, d.Check(), "twice")
	assert.Equal(t, ids("b", "c"), drawn("a>b b>c").Descendants("a"))
	assert.Equal(t, ids("a", "b"), drawn("a>b b>c").Ancestors("c"))
}

// random draws a diagram of up to seven nodes; arrows go from lower to higher numbers.
func random(t *rapid.T) Diagram {
	n := rapid.IntRange(2, 7).Draw(t, "nodes")
	order := rapid.Permutation(numbers(n)).Draw(t, "order")
	var d Diagram
	for i := range n {
		d.Nodes = append(d.Nodes, Node{ID: fmt.Sprint(order[i]), Measured: rapid.IntRange(0, 3).Draw(t, "measured") > 0})
	}
	for i := range n {
		for j := i + 1; j < n; j++ {
			if rapid.Bool().Draw(t, "arrow") {
				d.Edges = append(d.Edges, Edge{From: fmt.Sprint(i), To: fmt.Sprint(j)})
			}
		}
	}
	return d
}

func numbers(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func subsets(of []string) [][]string {
	out := [][]string{{}}
	for _, id := range of {
		for _, s := range slices.Clone(out) {
			out = append(out, append(slices.Clone(s), id))
		}
	}
	return out
}

// slowSeparated goes along every path without repeated nodes and applies the
// definition to each inner node.
func slowSeparated(d Diagram, path []string, y string, given []string) bool {
	last := path[len(path)-1]
	if last == y {
		return !slowOpen(d, path, given)
	}
	for _, n := range slices.Concat(d.children(last), d.parents(last)) {
		if !slices.Contains(path, n) && !slowSeparated(d, append(slices.Clone(path), n), y, given) {
			return false
		}
	}
	return true
}

func slowOpen(d Diagram, path, given []string) bool {
	for i := 1; i < len(path)-1; i++ {
		n := path[i]
		into := d.parents(n)
		meets := slices.Contains(into, path[i-1]) && slices.Contains(into, path[i+1])
		known := slices.Contains(given, n)
		if !meets && known {
			return false
		}
		if meets && !known && !slices.ContainsFunc(d.Descendants(n), func(b string) bool { return slices.Contains(given, b) }) {
			return false
		}
	}
	return true
}

func TestSeparatedAgainstEveryPath(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := random(t)
		var others []string
		for _, n := range d.Nodes[2:] {
			others = append(others, n.ID)
		}
		x, y := d.Nodes[0].ID, d.Nodes[1].ID
		for _, given := range subsets(others) {
			if got, want := d.Separated(x, y, given), slowSeparated(d, []string{x}, y, given); got != want {
				t.Fatalf("%v: %s and %s given %v: %v, path by path %v", d.Edges, x, y, given, got, want)
			}
		}
	})
}

// TestAdjustmentSetAgainstEverySet compares with a search over all sets: one is
// found whenever there is one, it blocks, and none of its subsets does.
func TestAdjustmentSetAgainstEverySet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := random(t)
		x, y := d.Nodes[0].ID, d.Nodes[1].ID
		if d.Leads(y, x) {
			return
		}
		var measured []string
		for _, n := range d.Nodes[2:] {
			if n.Measured {
				measured = append(measured, n.ID)
			}
		}
		any := slices.ContainsFunc(subsets(measured), func(s []string) bool { return d.BackDoorBlocked(x, y, s) })
		set, err := d.AdjustmentSet(x, y)
		if (err == nil) != any {
			t.Fatalf("%v: found %v (%v), a set exists: %v", d.Edges, set, err, any)
		}
		if err != nil {
			return
		}
		for _, s := range subsets(set) {
			if d.BackDoorBlocked(x, y, s) != (len(s) == len(set)) {
				t.Fatalf("%v: %v of %v", d.Edges, s, set)
			}
		}
	})
}
