package chart

import (
	"fmt"
	"math"
	"strings"

	"afterfit/internal/wording"
)

// Difference is one place of an arch with the difference in its figure between two
// sides. Value is signed, NaN for too few to tell. Sure says that the interval leaves
// out no difference; a place that is not sure is hatched.
type Difference struct {
	Zone, Side string
	Name       string // in words, for the title
	Value      float64
	Sure       bool
	Text       string // short figure with its sign, written into the place
	Full       string // figure with n and interval, for the title
}

// DifferenceMap draws one arch as ZoneMap does, with differences: more is filled in
// five steps of one hue, fewer in five of another, and the sign of the number tells
// them apart in grey; uncertain places are hatched, dashed ones are too few to tell.
// Top is the difference of the darkest step, which both arches should share; id tells
// the hatching of this map from others on the page and holds only letters, digits and
// dashes.
func DifferenceMap(w *wording.Catalogue, arch string, zones []Difference, top float64, id, title string) string {
	found := map[[2]string]Difference{}
	for _, z := range zones {
		found[[2]string{z.Zone, z.Side}] = z
	}
	var b, labels strings.Builder
	svgHead(&b, "arch", mapWidth, mapHeight, title)
	fmt.Fprintf(&b, `<defs><pattern id="%s" width="7" height="7" patternUnits="userSpaceOnUse"><rect class="hatch-ground" width="7" height="7"/><path class="hatch" d="M-1 8L8 -1M-1 1L1 -1M6 8L8 6"/></pattern></defs>`, escape(id))
	for _, p := range arches[arch] {
		for _, s := range p.spots() {
			z, ok := found[[2]string{s.zone, s.side}]
			if !ok {
				drawSpot(&b, &labels, arch, s, look{fill: `class="f0"`})
				continue
			}
			drawSpot(&b, &labels, arch, s, z.look(top, id))
		}
	}
	b.WriteString(labels.String())
	drawSides(w, &b, arch)
	return b.String()
}

func (z Difference) look(top float64, id string) look {
	l := look{name: z.Name, full: z.Full, text: z.Text}
	switch {
	case math.IsNaN(z.Value):
		l.fill, l.textClass = `class="fx"`, "fx-text"
	case !z.Sure:
		l.fill, l.textClass = `fill="url(#`+escape(id)+`)"`, "hatch-text"
	case z.Value < 0:
		l.fill, l.textClass = `class="`+level(-z.Value, top)+`"`, level(-z.Value, top)+"-text"
	default:
		step := strings.Replace(level(z.Value, top), "f", "m", 1)
		l.fill, l.textClass = `class="`+step+`"`, step+"-text"
	}
	return l
}
