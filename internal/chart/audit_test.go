package chart

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func someLanes() []Lane {
	return []Lane{
		{Name: hostile, From: 23, To: 350, Marks: []Mark{{Day: 23, Kind: MarkDelivery, Title: hostile}, {Day: 24, Kind: MarkAdjusted, Spots: 1, Title: "a"}, {Day: 25, Kind: MarkSeen, Spots: 2}, {Day: 350, Kind: MarkRemake}}},
		{Name: "not delivered", From: -1, To: -1, Marks: []Mark{{Day: 400, Kind: MarkRepair}}},
	}
}

func TestTimelineShowsEachKindBySeparateShape(t *testing.T) {
	svg := Timeline(english, someLanes(), 23, 860, hostile)
	tags := wellFormed(t, svg)
	assert.NotContains(t, tags, "b")
	lanes, _, _ := strings.Cut(svg, `>delivery<`) // what stands before the key
	for class, want := range map[string]int{`class="delivery"`: 2, `class="own"`: 1, `class="ring"`: 1, `class="repair"`: 1, `class="remake"`: 1, `class="own-line"`: 1, `class="spots"`: 2} {
		assert.Equal(t, want, strings.Count(lanes, class), class)
	}
}

var coordinate = regexp.MustCompile(` (?:x|x1|x2|cx)="([0-9.-]+)"`)

func TestTimelineStaysInItsFrame(t *testing.T) {
	for _, c := range []struct{ delivery, last int64 }{{23, 860}, {0, 10}, {-1, 0}, {5, 5}, {30, 100}, {36000, 36525}} {
		svg := Timeline(english, []Lane{{Name: "upper", From: max(0, c.delivery), To: c.last, Marks: []Mark{{Day: 0, Kind: MarkSeen}, {Day: c.last, Kind: MarkAdjusted, Spots: 3}}}}, c.delivery, c.last, "t")
		wellFormed(t, svg)
		assert.NotContains(t, svg, "NaN")
		for _, m := range coordinate.FindAllStringSubmatch(svg, -1) {
			x, err := strconv.ParseFloat(m[1], 64)
			assert.NoError(t, err)
			assert.True(t, x >= 0 && x <= timeWidth, "%v: x %v", c, x)
		}
	}
}

// The scale never runs backwards, and gives the first 90 days more room a day.
func TestDaysAreDrawnInOrder(t *testing.T) {
	s := daysOf(23, 860)
	before := s.x0(0)
	assert.InDelta(t, timeLeft, before, 1e-9)
	for d := int64(1); d <= 860; d++ {
		x := s.x0(d)
		assert.Greater(t, x, before, d)
		before = x
	}
	assert.InDelta(t, timeWidth-timeRight, before, 1e-9)
	assert.Greater(t, s.x0(60)-s.x0(59), 5*(s.x0(500)-s.x0(499)))
}

func TestSpreadDrawsWhatIsKnown(t *testing.T) {
	nan := math.NaN()
	svg := Spread{Value: 0.5, Low: 1, Mid: 2.5, High: 4, UsualLow: 1, UsualHigh: 5, Text: hostile, Beyond: true, Title: hostile}.Draw(english)
	wellFormed(t, svg)
	for _, want := range []string{`class="band"`, `class="usual"`, `class="remake"`, `class="all"`, "usual 1 to 5"} {
		assert.Contains(t, svg, want)
	}
	none := Spread{Value: nan, Low: 1, Mid: nan, High: 1, UsualLow: nan, UsualHigh: nan}.Draw(english)
	wellFormed(t, none)
	for _, not := range []string{"NaN", `class="own"`, `class="usual"`, `class="all"`} {
		assert.NotContains(t, none, not)
	}
	assert.Contains(t, Spread{Value: 2, Low: 1, Mid: nan, High: 4, UsualLow: nan, UsualHigh: nan}.Draw(english), `class="own"`)
	zero := Spread{Value: 2, Low: 1, Mid: nan, High: 4, UsualLow: nan, UsualHigh: nan, LowText: "one", HighText: "four", Zero: true}.Draw(english)
	assert.Contains(t, zero, `class="zero"`)
	assert.Contains(t, zero, ">one</text>")
	assert.Contains(t, zero, ">four</text>")
}

func TestDifferenceMapTellsMoreFewerUnsureAndTooFewApart(t *testing.T) {
	svg := DifferenceMap(english, "upper", []Difference{
		{"tuberosity", "left", "a", 10, true, "+10", hostile}, {"tuberosity", "right", "b", -4, true, "−4", ""},
		{"palate_side", "left", "c", 3, false, "+3.0", ""}, {"palate_side", "right", "d", math.NaN(), false, "", "too few"},
	}, 10, "hatch-1", hostile)
	tags := wellFormed(t, svg)
	assert.NotContains(t, tags, "b")
	for _, want := range []string{`class="m5"`, `>+10</text>`, `class="f2"`, `>−4</text>`, `fill="url(#hatch-1)"`, `>+3.0</text>`, `class="fx"`, `<pattern id="hatch-1"`} {
		assert.Equal(t, 1, strings.Count(svg, want), want)
	}
}
