package mapping

import (
	"bytes"
	"cmp"
	"errors"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Parse reads a mapping file and checks it against the contract. File is its name
// for messages. The error is Mistakes: all of them, each with line and marker.
func Parse(file string, text []byte) (*Mapping, error) {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	m := &Mapping{file: file, lines: strings.Split(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n")}
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(m); err != nil {
		return nil, m.undecoded(err)
	}
	m.places = placesOf(text)
	c := &checker{m: m}
	c.check()
	if len(c.found) > 0 {
		slices.SortStableFunc(c.found, func(a, b Mistake) int { return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.From, b.From)) })
		return nil, c.found
	}
	return m, nil
}

// undecoded turns what the TOML reader says into mistakes.
func (m *Mapping) undecoded(err error) error {
	var unknown *toml.StrictMissingError
	var broken *toml.DecodeError
	var found Mistakes
	switch {
	case errors.As(err, &unknown):
		for i := range unknown.Errors {
			e := &unknown.Errors[i]
			key := e.Key()
			last := key[len(key)-1]
			row, col := e.Position()
			found = append(found, m.mark(place{row, m.letters(row, col), len([]rune(last))}, "the unknown key "+shown(last), near(last, knownKeys)+"'afterfit load --help' says what a mapping is made of"))
		}
	case errors.As(err, &broken):
		row, col := broken.Position()
		what := strings.TrimPrefix(broken.Error(), "toml: ")
		found = append(found, m.mark(place{row, m.letters(row, col), 1}, "what a mapping cannot hold here ("+what+")", "write words in quotes, lists in [ ], and yes or no as true or false"))
	default:
		found = append(found, Mistake{File: m.file, Found: "what is no mapping (" + err.Error() + ")", Remedy: "'afterfit load --help' says what a mapping is made of"})
	}
	return found
}

// letters turns a column that counts bytes into one that counts letters.
func (m *Mapping) letters(row, col int) int {
	if row < 1 || row > len(m.lines) || col < 1 || col-1 > len(m.lines[row-1]) {
		return col
	}
	return len([]rune(m.lines[row-1][:col-1])) + 1
}

// mark makes a mistake at a place of the file.
func (m *Mapping) mark(p place, found, remedy string) Mistake {
	mistake := Mistake{File: m.file, Line: p.line, From: p.from, Width: p.width, Found: found, Remedy: remedy}
	if p.line >= 1 && p.line <= len(m.lines) {
		mistake.Text = m.lines[p.line-1]
	}
	return mistake
}

// mistake makes a mistake at the named place, or at the nearest one that holds it.
func (m *Mapping) mistake(path, found, remedy string) Mistake {
	for at := path; at != ""; {
		if p, ok := m.places[at]; ok {
			return m.mark(p, found, remedy)
		}
		cut := strings.LastIndexByte(at, '.')
		if cut < 0 {
			break
		}
		at = at[:cut]
	}
	return Mistake{File: m.file, Found: found, Remedy: remedy}
}

// knownKeys are all keys of a mapping, for suggestions.
var knownKeys = []string{"export", "sources", "codes", "cleared", "table", "kind", "reason", "cases", "dentures", "records", "readings", "trays", "visits", "sore_spots", "remakes",
	"name", "basis", "invented", "complete", "decimal", "date", "empty", "absent",
	"file", "sheet", "many", "format", "encoding", "delimiter", "header", "skip",
	"from", "where", "each", "columns", "column", "is", "not", "filled",
	"first_of", "join", "with", "value", "default", "unit", "keep", "day0", "since", "numerals", "split", "letters"}
