package mapping

import (
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// place is where a key or a value of a list stands in the mapping file.
type place struct{ line, from, width int }

// placesOf finds every key and every value of a list in a TOML text that is known
// to parse. The name of a place is its keys joined by dots, with a number for each
// entry of a list: visits.0.columns.day.date.
func placesOf(text []byte) map[string]place {
	w := walker{p: &unstable.Parser{}, places: map[string]place{}, lists: map[string]int{}}
	w.p.Reset(text)
	var table []string
	for w.p.NextExpression() {
		switch e := w.p.Expression(); e.Kind {
		case unstable.Table:
			table = w.name(keysOf(e))
			w.note(table, e)
		case unstable.ArrayTable:
			keys := keysOf(e)
			path := strings.Join(w.name(keys), ".")
			w.lists[path]++
			table = w.name(keys)
			w.note(table, e)
		case unstable.KeyValue:
			w.keyValue(table, e)
		}
	}
	return w.places
}

type walker struct {
	p      *unstable.Parser
	places map[string]place
	lists  map[string]int // how many entries of a list of tables came by
}

func keysOf(e *unstable.Node) []string {
	var keys []string
	for it := e.Key(); it.Next(); {
		keys = append(keys, string(it.Node().Data))
	}
	return keys
}

// name puts the number of the current entry behind every key that is a list.
func (w *walker) name(keys []string) []string {
	var path []string
	for _, k := range keys {
		path = append(path, k)
		if n := w.lists[strings.Join(path, ".")]; n > 0 {
			path = append(path, strconv.Itoa(n-1))
		}
	}
	return path
}

func (w *walker) note(path []string, e *unstable.Node) {
	var raw unstable.Range
	for it := e.Key(); it.Next(); {
		raw = it.Node().Raw
	}
	w.mark(path, raw)
}

// mark notes a place once; what is marked is the last key or the value itself.
func (w *walker) mark(path []string, raw unstable.Range) {
	key := strings.Join(path, ".")
	if _, seen := w.places[key]; seen || raw.Length == 0 {
		return
	}
	shape := w.p.Shape(raw)
	text := w.p.Data()
	start := lineStart(text, int(raw.Offset))
	end := int(raw.Offset + raw.Length)
	if shape.End.Line != shape.Start.Line {
		end = int(raw.Offset) + 1
	}
	w.places[key] = place{shape.Start.Line, len([]rune(string(text[start:raw.Offset]))) + 1, len([]rune(string(text[raw.Offset:end])))}
}

func lineStart(text []byte, at int) int {
	for at > 0 && text[at-1] != '\n' {
		at--
	}
	return at
}

func (w *walker) keyValue(table []string, e *unstable.Node) {
	path := append(append([]string{}, table...), keysOf(e)...)
	w.note(path, e)
	w.value(path, e.Value())
}

func (w *walker) value(path []string, v *unstable.Node) {
	switch v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			w.keyValue(path, it.Node())
		}
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); {
			entry := append(append([]string{}, path...), strconv.Itoa(i))
			w.mark(entry, it.Node().Raw)
			w.value(entry, it.Node())
			i++
		}
	}
}
