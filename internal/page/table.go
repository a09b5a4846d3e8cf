package page

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

type table struct {
	Caption string
	Head    []column
	Rows    [][]string
	Open    bool
	// Screen keeps a table of reference off paper, which says so in its place.
	Screen bool
}

// column is a table's column; its ID is the key of its title in the catalogue.
type column struct {
	ID, Title string
	Number    bool
}

// columns are the heads of a table by their keys in the catalogue. A # before one says that
// it holds numbers, a = that it is the head itself.
func (w words) columns(ids ...string) []column {
	out := make([]column, len(ids))
	for i, id := range ids {
		if title, given := strings.CutPrefix(id, "="); given {
			out[i] = column{Title: title}
			continue
		}
		id, number := strings.CutPrefix(id, "#")
		out[i] = column{id, w.or("head.*", id, id), number}
	}
	return out
}

// caption is what stands over a table whose text says what it holds.
func (w words) caption(text string) string {
	return w.Say("table.caption", "caption", text)
}

// by is one thing by another, as titles and captions say it.
func (w words) by(what, by string) string {
	return w.Say("table.by", "what", what, "by", by)
}

// Marked reports whether a table marks an interval that has a caution.
func (t table) Marked() bool {
	return slices.ContainsFunc(t.Rows, func(row []string) bool {
		return slices.ContainsFunc(row, func(cell string) bool { return strings.HasSuffix(cell, cautionMark) })
	})
}

// drop takes a column off; nil has none.
func (t *table) drop(id string) {
	if t == nil {
		return
	}
	i := slices.IndexFunc(t.Head, func(c column) bool { return c.ID == id })
	if i < 0 {
		return
	}
	t.Head = slices.Delete(t.Head, i, i+1)
	for r := range t.Rows {
		t.Rows[r] = slices.Delete(t.Rows[r], i, i+1)
	}
}

// shown is a table as the template writes it: columns that say the same in every row
// stand once above it, which spares the reader, the paper and the bytes.
type shown struct {
	Class string
	Same  []same
	Head  []column
	Rows  [][]cell
}

// same is a column that stands above its table.
type same struct {
	column
	Text string
}

// cell is one cell's text. Isolate is set where the text could turn the writing
// direction of what stands around it, Long where it holds a word that no column has room for.
type cell struct {
	Text    string
	Isolate bool
	Long    bool
	Link    bool // the text is the name of a file beside the page
}

// longWord is the length in characters from which a word may break inside a cell.
const longWord = 15

func hasLongWord(text string) bool {
	return slices.ContainsFunc(strings.Fields(text), func(w string) bool { return utf8.RuneCountInString(w) > longWord })
}

// liftable are the columns that may stand above a table; what identifies a row never does.
var liftable = map[string]bool{"unit": true, "method": true, "n": true, "n_with": true, "n_without": true}

// leastRows is how many rows a table has before columns are lifted out of it.
const leastRows = 3

// Shown lays a table out for the page.
func (t table) Shown() shown {
	var s shown
	var keep []int
	for i, c := range t.Head {
		if text, ok := t.same(i); ok && liftable[c.ID] {
			s.Same = append(s.Same, same{c, text})
			continue
		}
		keep = append(keep, i)
		s.Head = append(s.Head, c)
	}
	for _, r := range t.Rows {
		row := make([]cell, len(keep))
		for i, at := range keep {
			row[i] = cell{r[at], turns(r[at]), hasLongWord(r[at]), t.Head[at].ID == "file"}
		}
		s.Rows = append(s.Rows, row)
	}
	s.Class = s.class()
	return s
}

// same reports whether every row of a table says the same in a column, and what.
func (t table) same(at int) (string, bool) {
	if len(t.Rows) < leastRows || t.Rows[0][at] == "" {
		return "", false
	}
	for _, r := range t.Rows[1:] {
		if r[at] != t.Rows[0][at] {
			return "", false
		}
	}
	return t.Rows[0][at], true
}

// turns reports whether text holds a letter or a mark that is written from the right, or
// that could be: Latin, Greek and Cyrillic and the signs that the pages use are not.
func turns(text string) bool {
	return strings.ContainsFunc(text, func(r rune) bool {
		return r >= 0x0590 && (r < 0x2010 || r > 0x2027) && r != '−' && r != '…'
	})
}

// fewColumns is how many columns leave the last one room for a sentence on one line of paper.
const fewColumns = 6

// broadColumns is how many columns paper holds at the usual size.
const broadColumns = 10

// Widths on paper in characters of the small size, at which a table is set in two or
// three columns of the page; longText is where a cell's text breaks.
const (
	halfPage, thirdPage = 62, 39
	longText            = 26
	leastSplit          = 8 // rows
)

// class names the columns of numbers, as the stylesheet aligns them, and how paper sets
// the table: without its last column where that is the method, which the section on
// methods tells once; smaller where it is broad; in two or three columns where it is narrow.
func (s shown) class() string {
	var out []string
	for i, c := range s.Head {
		if c.Number {
			out = append(out, "r"+strconv.Itoa(i+1))
		}
	}
	n, width := len(s.Head), s.width()
	switch {
	case n > 0 && s.Head[n-1].ID == "method":
		out = append(out, "methods")
	case n > broadColumns:
		out = append(out, "broad")
	}
	switch {
	case len(s.Rows) < leastSplit:
		out = append(out, "short")
	case width <= thirdPage:
		out = append(out, "three")
	case width <= halfPage:
		out = append(out, "two")
	}
	if n > 0 && s.widest(0) <= aKey {
		out = append(out, "key")
	}
	if n > 0 && s.widest(n-1) > aSentence {
		out = append(out, "telling")
		if n > fewColumns {
			out = append(out, "crowded")
		}
	}
	return strings.Join(out, " ")
}

// aKey is the length up to which the first cell stays on one line: a code broken in two
// is easily copied wrong.
const aKey = 12

// mostPrinted is how many rows a table of reference by site or laboratory may have on paper.
const mostPrinted = 120

// aSentence is the length from which a cell needs room for a sentence.
const aSentence = 60

func (s shown) widest(at int) int {
	n := 0
	for _, r := range s.Rows {
		n = max(n, utf8.RuneCountInString(r[at].Text))
	}
	return n
}

// width estimates how many characters side by side a table takes.
func (s shown) width() int {
	all := 0
	for i, c := range s.Head {
		if i == len(s.Head)-1 && c.ID == "method" {
			continue
		}
		widest := 0
		for _, w := range strings.Fields(c.Title) {
			widest = max(widest, utf8.RuneCountInString(w))
		}
		for _, r := range s.Rows {
			n := utf8.RuneCountInString(r[i].Text)
			if !c.Number {
				n = min(n, longText)
			}
			widest = max(widest, n)
		}
		all += widest + 2
	}
	return all
}
