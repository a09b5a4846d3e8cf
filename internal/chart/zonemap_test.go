package chart

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Numbers stand above all shapes: a neighbour that is drawn later would cover a digit.
func TestNoShapeCoversANumber(t *testing.T) {
	zones := []Zone{{Zone: "retromylohyoid", Side: "right", Name: "a", Value: 2, Text: "16, 21"}, {Zone: "retromylohyoid", Side: "left", Name: "b", Value: 1, Text: "3"}}
	differences := []Difference{{Zone: "retromylohyoid", Side: "right", Name: "a", Value: 2, Text: "+16", Sure: true}}
	for _, svg := range []string{ZoneMap(english, "lower", zones, 2, "t"), DifferenceMap(english, "lower", differences, 2, "id", "t")} {
		assert.Contains(t, svg, "16")
		assert.Less(t, strings.LastIndex(svg, "<path"), strings.Index(svg, "<text"))
	}
}
