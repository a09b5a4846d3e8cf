package chart

import (
	"html"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/habit"
)

var tspans = regexp.MustCompile(`<tspan[^>]*>([^<]*)</tspan>`)

// wordsOf joins what is written in an SVG, lines run together.
func wordsOf(svg string) string {
	var words []string
	for _, m := range tspans.FindAllStringSubmatch(svg, -1) {
		words = append(words, strings.Trim(html.UnescapeString(m[1]), "· \u2003"))
	}
	return strings.Join(words, " ")
}

// TestDiagramShowsEveryNodeAndGroupArrow: each node's label is written, each arrow
// between groups is drawn and told.
func TestDiagramShowsEveryNodeAndGroupArrow(t *testing.T) {
	svg := DrawCauses(english, habit.Causes)
	wellFormed(t, svg)
	words := wordsOf(svg)
	for _, n := range habit.Causes.Nodes {
		assert.Contains(t, words, nodeName(english, n.ID))
	}
	arrows := habit.Causes.GroupArrows()
	require.Greater(t, len(arrows), 20)
	assert.Equal(t, len(arrows), strings.Count(svg, `class="head"`))
	title := map[string]string{}
	for _, g := range habit.Groups {
		title[g.ID] = g.Title
		assert.Contains(t, words, g.Title)
	}
	for _, a := range arrows {
		assert.Contains(t, svg, title[a.From]+" to "+title[a.To]+" ("+strconv.Itoa(a.N)+")")
	}
}

var corner = regexp.MustCompile(`([ML])(-?[0-9]+) (-?[0-9]+)`)

// TestDiagramStaysInItsFrame: no box or arrow leaves the picture, and no two boxes of it
// lie on each other.
func TestDiagramStaysInItsFrame(t *testing.T) {
	w := layOut(english)
	for id, b := range w.boxes {
		assert.True(t, b.x >= 0 && b.x+b.w <= wholeWidth && b.y >= 0 && b.y+b.h <= w.bottom+4, "%s %+v", id, b)
		for other, o := range w.boxes {
			apart := b.x+b.w <= o.x || o.x+o.w <= b.x || b.y+b.h <= o.y || o.y+o.h <= b.y
			assert.True(t, id == other || apart, "%s lies on %s", id, other)
		}
	}
	for _, m := range corner.FindAllStringSubmatch(DrawCauses(english, habit.Causes), -1) {
		x, err := strconv.ParseFloat(m[2], 64)
		require.NoError(t, err)
		y, err := strconv.ParseFloat(m[3], 64)
		require.NoError(t, err)
		assert.True(t, x >= 0 && x <= wholeWidth && y >= 0 && y <= w.bottom+4, "%s", m[0])
	}
}

// TestPartsSayWhatTheyDraw: every part of the catalogue names its nodes in the drawing,
// draws as many arrows as its words tell, and fits its boxes.
func TestPartsSayWhatTheyDraw(t *testing.T) {
	for _, h := range habit.Hypotheses {
		p := habit.Causes.PartOf(h.Node(), h.Outcome, h.Adjust())
		svg, height := DrawPart(english, "part-x", p)
		wellFormed(t, svg)
		words := wordsOf(svg)
		for _, id := range append(append([]string{p.Exposure, p.Outcome}, p.Held...), p.Between...) {
			assert.Contains(t, words, nodeName(english, id), h.ID)
		}
		told := strings.Count(partWords(english, p), "; ") + 1
		if told > 1 || len(p.Between) > 0 {
			assert.Equal(t, told, strings.Count(svg, `class="head"`), "%s: %s", h.ID, partWords(english, p))
		}
		assert.Equal(t, h.Control, strings.Contains(svg, "no arrow: nothing is expected"), h.ID)
		again := DrawPartAgain(english, "part-x", height, p)
		wellFormed(t, again)
		assert.Contains(t, again, `<use href="#part-x"/>`)
		assert.Contains(t, svg, `<g id="part-x">`)
	}
}

func TestWordsAreBroken(t *testing.T) {
	assert.Equal(t, []string{"one two", "three"}, wrapped("one two three", 2*boxPad+9*letter, letter))
	assert.Equal(t, []string{"unbreakable", "a"}, wrapped("unbreakable a", 2*boxPad+3*letter, letter))
	assert.Empty(t, wrapped("", 100, letter))
}

func TestDoseIsDrawnOrLeftOut(t *testing.T) {
	assert.Empty(t, DrawDose(english, Dose{Points: []DosePoint{{X: 1, Y: 2}}}), "one point is no curve")
	d := Dose{Points: []DosePoint{{-1, 30, 20, 45}, {0, 20, 20, 20}, {3, 25, 18, 34}}, Counts: []DoseCount{{-9, 500}, {-1, 5}, {0, 40}, {3, 2}}, Reference: 0, Low: -2, High: 2,
		Unit: hostile, Along: hostile, Title: hostile}
	svg := DrawDose(english, d)
	wellFormed(t, svg)
	assert.NotContains(t, svg, "<b>")
	for _, text := range []string{">30</text>", ">25</text>", ">20</text>", ">40</text>", ">usual</text>", ">−1</text>", `class="dose-band"`} {
		assert.Contains(t, svg, text)
	}
	assert.NotContains(t, svg, ">500<", "a value beyond the curve is not counted under it")
	count := regexp.MustCompile(`class="dose-count" d="([^"]*)"`).FindStringSubmatch(svg)
	require.Len(t, count, 2)
	assert.Equal(t, 3, strings.Count(count[1], "M"))
	d.Low, d.High = 5, 6
	assert.NotContains(t, DrawDose(english, d), ">usual<", "the usual range lies beyond the picture")
}
