package chart

import (
	"strings"

	"afterfit/internal/habit"
	"afterfit/internal/wording"
)

// Measures of the whole diagram in user units.
const (
	wholeWidth, wholeMargin = 920, 22
	rowGap                  = 22
)

// whole is the diagram laid out: the patient over, people and place under a row that runs
// from what was recorded to what is done.
type whole struct {
	boxes  map[string]box
	bottom float64
}

// DrawCauses draws the whole diagram with its nodes gathered in the groups of habit, as
// SVG. An arrow between two boxes stands for one or more between their members; the page
// lists each.
func DrawCauses(words *wording.Catalogue, d habit.Diagram) string {
	w := layOut(words)
	var b strings.Builder
	svgHead(&b, "causes", wholeWidth, int(w.bottom+4), words.Say("diagram.whole", "arrows", GroupWords(words, d)))
	for _, a := range d.GroupArrows() {
		w.arrow(&b, a)
	}
	for _, g := range habit.Groups {
		w.boxes[g.ID].draw(&b)
	}
	b.WriteString("</svg>")
	return b.String()
}

// GroupWords lists the arrows between groups.
func GroupWords(w *wording.Catalogue, d habit.Diagram) string {
	title := map[string]string{}
	for _, g := range habit.Groups {
		title[g.ID] = groupTitle(w, g)
	}
	var list []string
	for _, a := range d.GroupArrows() {
		list = append(list, w.Say("diagram.group_arrow", "from", title[a.From], "to", title[a.To], "n", a.N))
	}
	return w.Say("diagram.group_arrows", "arrows", strings.Join(list, "; "))
}

func groupTitle(w *wording.Catalogue, g habit.Group) string {
	if s, ok := w.Named("cause_group.*", g.ID); ok {
		return s
	}
	return g.Title
}

// layOut places the groups.
func layOut(words *wording.Catalogue) whole {
	w := whole{boxes: map[string]box{}}
	columns := map[int][2]float64{habit.Recorded: {wholeMargin, 268}, habit.Made: {352, 190}, habit.Noticed: {582, 150}, habit.Done: {772, 146}}
	y := 2.0
	var under habit.Group
	tops := map[int]float64{}
	for _, g := range habit.Groups {
		switch {
		case g.Stage == habit.Before && len(w.boxes) == 0:
			b := newBox("plain", groupTitle(words, g), wholeMargin, wholeWidth-wholeMargin-2, 3, nodeNames(words, g.Members))
			b.y = y
			w.boxes[g.ID] = b
			y = b.y + b.h + 44
		case g.Stage == habit.Before:
			under = g
		default:
			at := columns[g.Stage]
			b := newBox(map[bool]string{true: "between", false: "plain"}[g.Stage == habit.Made], groupTitle(words, g), at[0], at[1], 1, nodeNames(words, g.Members))
			b.y = y + tops[g.Stage]
			tops[g.Stage] += b.h + rowGap
			w.boxes[g.ID] = b
			w.bottom = max(w.bottom, b.y+b.h)
		}
	}
	b := newBox("plain", groupTitle(words, under), wholeMargin, wholeWidth-wholeMargin-2, 3, nodeNames(words, under.Members))
	b.y = w.bottom + 44
	w.boxes[under.ID] = b
	w.bottom = b.y + b.h
	return w
}

// lane is the offset of arrows from the two wide boxes, so that they lie apart.
const lane = 12.0

// arrow draws one arrow between groups: from the wide boxes up or down, along the row
// otherwise.
func (w whole) arrow(b *strings.Builder, a habit.GroupArrow) {
	from, to := w.boxes[a.From], w.boxes[a.To]
	top, under := w.boxes[habit.Groups[0].ID], w.boxes[habit.Groups[1].ID]
	recorded := to.x == wholeMargin && a.To != habit.Groups[0].ID && a.To != habit.Groups[1].ID
	switch {
	case a.From == habit.Groups[0].ID && a.To == habit.Groups[1].ID: // the patient and people, along the left
		arrowAlong(b, [2]float64{from.x, from.middle()}, [2]float64{4, from.middle()}, [2]float64{4, to.y + to.h*0.7}, [2]float64{to.x, to.y + to.h*0.7})
	case a.From == habit.Groups[1].ID && a.To == habit.Groups[0].ID:
		arrowAlong(b, [2]float64{from.x, from.y + from.h*0.3}, [2]float64{13, from.y + from.h*0.3}, [2]float64{13, to.y + to.h*0.8}, [2]float64{to.x, to.y + to.h*0.8})
	case a.From == habit.Groups[0].ID && recorded: // along the right of what was recorded
		x := to.x + to.w + lane
		arrowAlong(b, [2]float64{x, top.y + top.h}, [2]float64{x, to.y + boxPad}, [2]float64{to.x + to.w, to.y + boxPad})
	case a.From == habit.Groups[1].ID && recorded:
		x := to.x + to.w + 2*lane
		arrowAlong(b, [2]float64{x, under.y}, [2]float64{x, to.y + to.h - boxPad}, [2]float64{to.x + to.w, to.y + to.h - boxPad})
	case a.From == habit.Groups[0].ID:
		x := to.x + to.w*0.6
		arrowAlong(b, [2]float64{x, top.y + top.h}, [2]float64{x, to.y})
	case a.From == habit.Groups[1].ID:
		x := to.x + to.w*0.6
		arrowAlong(b, [2]float64{x, under.y}, [2]float64{x, to.y + to.h})
	case from.x == to.x: // one recorded thing to the next
		x := from.x + 40
		arrowAlong(b, [2]float64{x, from.y + from.h}, [2]float64{x, to.y})
	default:
		w.along(b, from, to)
	}
}

// along draws an arrow along the row. One that passes a column goes over its boxes or,
// where it starts below them, under.
func (w whole) along(b *strings.Builder, from, to box) {
	made, noticed := w.boxes["made"], w.boxes["noticed"]
	start, end := [2]float64{from.x + from.w, from.middle()}, [2]float64{to.x, to.middle()}
	switch {
	case from.x == made.x && to.x > noticed.x: // over what is noticed
		y := made.y - 14
		x, target := from.x+from.w*0.85, to.x+to.w*0.3
		arrowAlong(b, [2]float64{x, from.y}, [2]float64{x, y}, [2]float64{target, y}, [2]float64{target, to.y})
	case from.x < made.x && to.x > made.x: // under what comes of it
		x := to.x + to.w*0.3
		arrowAlong(b, start, [2]float64{x, start[1]}, [2]float64{x, to.y + to.h})
	case from.x < made.x:
		x := made.x - 20
		y := min(max(start[1], to.y+boxPad), to.y+to.h-boxPad)
		if y == start[1] {
			arrowAlong(b, start, [2]float64{to.x, y})
			return
		}
		y = to.y + to.h - boxPad
		arrowAlong(b, start, [2]float64{x, start[1]}, [2]float64{x, y}, [2]float64{to.x, y})
	default:
		y := min(from.middle(), to.middle())
		arrowAlong(b, [2]float64{start[0], y}, [2]float64{end[0], y})
	}
}
