package chart

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"afterfit/internal/habit"
	"afterfit/internal/wording"
)

// This file draws the causal diagram: the whole of it with its nodes gathered in groups,
// and the part that matters to one finding. A box's border says what it is, so that it
// reads in grey: single, double for what is held alike, dashed for what lies between or
// was never recorded.

// lineStep is the distance of lines in a box, letter and bold the room of a letter, in user
// units.
const (
	lineStep = 17
	letter   = 6.7
	bold     = 7.6
	boxPad   = 9
)

// box is a box of the diagram with its words already broken into lines.
type box struct {
	x, y, w, h float64
	class      string
	title      []string
	columns    [][]string // lines, side by side
}

// newBox breaks words to fit, with the members spread over columns.
func newBox(class, title string, x, w float64, columns int, members []string) box {
	b := box{x: x, w: w, class: class, title: wrapped(title, w, bold)}
	each := (len(members) + columns - 1) / columns
	most := 0
	for i := 0; i < len(members); i += each {
		var lines []string
		for _, m := range members[i:min(i+each, len(members))] {
			for k, l := range wrapped(m, w/float64(columns)-8, letter) {
				lines = append(lines, map[bool]string{true: "· ", false: "\u2003"}[k == 0]+l)
			}
		}
		b.columns, most = append(b.columns, lines), max(most, len(lines))
	}
	b.h = float64(lineStep*(len(b.title)+most)) + boxPad + 4
	return b
}

// wrapped breaks words into lines that fit a width, given the room of a letter.
func wrapped(text string, width, room float64) []string {
	most := int((width - 2*boxPad) / room)
	var lines []string
	for _, word := range strings.Fields(text) {
		if n := len(lines); n > 0 && utf8.RuneCountInString(lines[n-1])+1+utf8.RuneCountInString(word) <= most {
			lines[n-1] += " " + word
			continue
		}
		lines = append(lines, word)
	}
	return lines
}

func (b box) draw(out *strings.Builder) {
	fmt.Fprintf(out, `<rect class="%s" x="%.0f" y="%.0f" width="%.0f" height="%.0f"/>`, b.class, b.x, b.y, b.w, b.h)
	if b.class == "held" {
		fmt.Fprintf(out, `<rect class="none" x="%.0f" y="%.0f" width="%.0f" height="%.0f"/>`, b.x+3, b.y+3, b.w-6, b.h-6)
	}
	b.text(out, "b", b.title, b.x+boxPad, b.y+lineStep+1)
	for i, lines := range b.columns {
		b.text(out, "", lines, b.x+boxPad+float64(i)*b.w/float64(len(b.columns)), b.y+lineStep*float64(len(b.title)+1)+1)
	}
}

func (b box) text(out *strings.Builder, class string, lines []string, x, y float64) {
	if len(lines) == 0 {
		return
	}
	if class != "" {
		class = ` class="` + class + `"`
	}
	fmt.Fprintf(out, `<text%s y="%.0f">`, class, y)
	for i, l := range lines {
		dy := ""
		if i > 0 {
			dy = fmt.Sprintf(` dy="%d"`, lineStep)
		}
		fmt.Fprintf(out, `<tspan x="%.0f"%s>%s</tspan>`, x, dy, escape(l))
	}
	out.WriteString("</text>")
}

func (b box) middle() float64 { return b.y + b.h/2 }

// arrowAlong draws a line through corners with a head at its end.
func arrowAlong(out *strings.Builder, corners ...[2]float64) {
	n := len(corners)
	from, to := corners[n-2], corners[n-1]
	var path strings.Builder
	for i, c := range corners {
		fmt.Fprintf(&path, "%s%.0f %.0f", map[bool]string{true: "M", false: "L"}[i == 0], c[0], c[1])
	}
	dx, dy := 0.0, 0.0
	switch {
	case to[0] > from[0]:
		dx = 1
	case to[0] < from[0]:
		dx = -1
	case to[1] > from[1]:
		dy = 1
	default:
		dy = -1
	}
	fmt.Fprintf(out, `<path class="arrow" d="%s"/><path class="head" d="M%.0f %.0fL%.0f %.0fL%.0f %.0fZ"/>`, path.String(), to[0], to[1],
		to[0]-9*dx+4*dy, to[1]-9*dy+4*dx, to[0]-9*dx-4*dy, to[1]-9*dy-4*dx)
}

// partWidth is the width of a part's drawing in user units.
const partWidth = 760

// DrawPart draws what of the causal diagram matters to one finding, as SVG whose group
// has the id given, with its words for those who cannot see it. Height comes back for
// DrawPartAgain.
func DrawPart(w *wording.Catalogue, id string, p habit.Part) (svg string, height int) {
	exposure := newBox("end", nodeName(w, p.Exposure), 0, 216, 1, nil)
	outcome := newBox("end", nodeName(w, p.Outcome), 574, 186, 1, nil)
	top := []*box{&exposure, &outcome}
	between := newBox("between", w.Say("diagram.between"), 268, 254, 1, nodeNames(w, p.Between))
	if len(p.Between) > 0 {
		top = append(top, &between)
	}
	tall := 0.0
	for _, b := range top {
		tall = max(tall, b.h)
	}
	arc := 0.0
	if p.Direct && len(p.Between) > 0 {
		arc = 22 // room for the arrow over the boxes
	}
	for _, b := range top {
		b.y = 2 + arc + (tall-b.h)/2
	}
	var b strings.Builder
	for _, x := range top {
		x.draw(&b)
	}
	drawWay(w, &b, p, exposure, between, outcome)
	h := 4 + arc + tall
	if len(p.Held) > 0 {
		held := newBox("held", w.Say("diagram.held"), 0, partWidth-4, 3, nodeNames(w, p.Held))
		held.x, held.y = 2, h+34
		held.draw(&b)
		for _, a := range []struct {
			yes bool
			to  box
		}{{p.ToExposure, exposure}, {p.ToBetween, between}, {p.ToOutcome, outcome}} {
			if a.yes {
				x := a.to.x + a.to.w/2
				arrowAlong(&b, [2]float64{x, held.y}, [2]float64{x, a.to.y + a.to.h})
			}
		}
		h = held.y + held.h + 2
	}
	height = int(h + 0.5)
	return partHead(w, height, p) + `<g id="` + escape(id) + `">` + b.String() + "</g></svg>", height
}

// drawWay draws the arrows from exposure to outcome.
func drawWay(w *wording.Catalogue, b *strings.Builder, p habit.Part, exposure, between, outcome box) {
	y := exposure.middle()
	switch {
	case len(p.Between) > 0:
		arrowAlong(b, [2]float64{exposure.x + exposure.w, y}, [2]float64{between.x, y})
		arrowAlong(b, [2]float64{between.x + between.w, y}, [2]float64{outcome.x, y})
		if p.Direct {
			from, to := exposure.x+exposure.w/2, outcome.x+outcome.w/2
			arrowAlong(b, [2]float64{from, exposure.y}, [2]float64{from, 6}, [2]float64{to, 6}, [2]float64{to, outcome.y})
		}
	case p.Direct:
		arrowAlong(b, [2]float64{exposure.x + exposure.w, y}, [2]float64{outcome.x, y})
	default:
		fmt.Fprintf(b, `<text x="%d" y="%.0f" text-anchor="middle">%s</text>`, 395, y+4, escape(w.Say("diagram.no_arrow")))
	}
}

// DrawPartAgain shows a part that stands elsewhere in the page once more.
func DrawPartAgain(w *wording.Catalogue, id string, height int, p habit.Part) string {
	return strings.Replace(partHead(w, height, p), `class="part"`, `class="part again"`, 1) + `<use href="#` + escape(id) + `"/></svg>`
}

func partHead(w *wording.Catalogue, height int, p habit.Part) string {
	return fmt.Sprintf(`<svg class="part" viewBox="0 0 %d %d" role="img" aria-label="%s">`, partWidth, height, escape(partWords(w, p)))
}

// partWords tells a part's arrows. What is held alike stands in words beside it.
func partWords(w *wording.Catalogue, p habit.Part) string {
	var arrows []string
	add := func(yes bool, from, to string) {
		if yes {
			arrows = append(arrows, w.Say("diagram.arrow", "from", from, "to", to))
		}
	}
	exposure, outcome, between := nodeName(w, p.Exposure), nodeName(w, p.Outcome), w.Say("diagram.what_between")
	add(len(p.Between) > 0, exposure, w.Say("diagram.what_between_named", "things", strings.Join(nodeNames(w, p.Between), ", ")))
	add(len(p.Between) > 0, between, outcome)
	add(p.Direct, exposure, outcome)
	held := w.Say("diagram.what_held")
	for _, a := range []struct {
		yes bool
		to  string
	}{{p.ToExposure, exposure}, {p.ToBetween, between}, {p.ToOutcome, outcome}} {
		add(a.yes, held, a.to)
	}
	return w.Say("diagram.arrows", "arrows", strings.Join(arrows, "; "))
}

func nodeName(w *wording.Catalogue, id string) string {
	n, ok := habit.Causes.Node(id)
	if !ok {
		return id
	}
	label := n.Label
	if s, ok := w.Named("cause.*", id); ok {
		label = capital(s)
	}
	if !n.Measured {
		return w.Say("diagram.never", "thing", label)
	}
	return label
}

func nodeNames(w *wording.Catalogue, list []string) []string {
	out := make([]string, len(list))
	for i, id := range list {
		out[i] = nodeName(w, id)
	}
	return out
}

// capital begins a text with a capital, where it does not begin with a name.
func capital(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[size:]
}
