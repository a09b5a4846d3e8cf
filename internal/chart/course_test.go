package chart

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestCourseDrawsWhatItIsGiven(t *testing.T) {
	c := Course{Periods: []string{"2023-01", "2023-02", "2023-03"}, Center: 10, CenterName: "mean 10", Unit: "per 100", Title: `a "title" & <more>`,
		Low: []float64{5, 5, math.NaN()}, High: []float64{15, 15, math.NaN()}, Marks: []CourseMark{{At: 1, Name: "</svg>"}},
		Lines: []CourseLine{{Name: "here", Kind: Service, Points: []CoursePoint{{0, 9, false, false}, {1, 20, false, true}, {2, 8, true, false}}},
			{Name: "there", Kind: Rest, Points: []CoursePoint{{0, 9, false, false}, {1, math.NaN(), false, false}, {2, 8, false, false}}}}}
	svg := DrawCourse(english, c)
	wellFormed(t, svg)
	assert.Equal(t, 1, strings.Count(svg, `class="beyond"`), "one point beyond")
	assert.Equal(t, 2, strings.Count(svg, `class="limit"`))
	assert.Equal(t, 1, strings.Count(svg, `class="mark"`))
	assert.Contains(t, svg, "&lt;/svg&gt;")
	assert.NotContains(t, svg, "NaN")
	assert.Contains(t, svg, `<path class="own-line" d="M`)
	_, line, _ := strings.Cut(svg, `class="own-line"`)
	line, _, _ = strings.Cut(line, "/>")
	assert.Equal(t, 1, strings.Count(line, "L"), "the open last point is off the line")
	assert.Empty(t, DrawCourse(english, Course{Periods: []string{"2023"}}), "one period is no course")
}

// TestCourseNamesStayApart: lines that end together have names 15 units apart at least.
func TestCourseNamesStayApart(t *testing.T) {
	end := func(name string, v float64) CourseLine {
		return CourseLine{Name: name, Points: []CoursePoint{{0, 1, false, false}, {1, v, false, false}}}
	}
	svg := DrawCourse(english, Course{Periods: []string{"a", "b"}, Center: math.NaN(), Lines: []CourseLine{end("one", 10), end("two", 10)}})
	wellFormed(t, svg)
	assert.NotEqual(t, lineOf(svg, "one"), lineOf(svg, "two"))
}

func lineOf(svg, name string) string {
	before, _, _ := strings.Cut(svg, ">"+name+"<")
	tag := before[strings.LastIndex(before, "<text"):]
	_, y, _ := strings.Cut(tag, ` y="`)
	y, _, _ = strings.Cut(y, `"`)
	return y
}

func TestFunnelMarksFlagsAndReader(t *testing.T) {
	var limits []FunnelLimit
	for e := 10.0; e < 100; e += 10 {
		w := 1 / math.Sqrt(e)
		limits = append(limits, FunnelLimit{e, 1 - 2*w, 1 + 2*w, 1 - 3*w, math.Inf(1)})
	}
	svg := DrawFunnel(english, []FunnelDot{{Size: 20, Ratio: 1}, {Size: 30, Ratio: 1.5, Flag: 1}, {Size: 50, Ratio: 1.9, Flag: 2, Name: "<x>"}, {Size: 60, Ratio: 1.2, Own: true, Name: "you"}, {Size: 70, Ratio: 0.9, Faint: true}, {Size: 80, Ratio: 0}}, limits, "expected", "funnel")
	wellFormed(t, svg)
	assert.Equal(t, 1, strings.Count(svg, `class="beyond"`))
	assert.Equal(t, 1, strings.Count(svg, `class="beyond-near"`))
	assert.Equal(t, 1, strings.Count(svg, `class="rest"`))
	assert.Contains(t, svg, "&lt;x&gt;")
	assert.Contains(t, svg, ">you<")
	for _, bad := range []string{"NaN", "Inf"} {
		assert.NotContains(t, svg, bad)
	}
	assert.Empty(t, DrawFunnel(english, nil, nil, "", ""))
}
