package mapping

import (
	"fmt"
	"maps"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"afterfit/internal/bundle"
)

// SheetID names a file of an export, or a sheet of a workbook in it.
type SheetID struct {
	File  string `json:"file"`
	Sheet string `json:"sheet,omitempty"` // "" for plain files
}

// String is how messages name the sheet.
func (id SheetID) String() string {
	if id.Sheet == "" {
		return id.File
	}
	return id.File + "[" + id.Sheet + "]"
}

// Grid is one sheet as plain cells, ready for DuckDB.
type Grid struct {
	SheetID
	Format string // of the file: csv, xlsx ...

	Encoding, Delimiter string // as found, for text files

	Path  string // a CSV without header: line number, then Width cells
	Width int
	Rows  int64
	Blank int64  // lines without anything, which Path leaves out
	Head  []Line // the first lines
}

// Line is one line of a grid.
type Line struct {
	Number int64 // in the user's file
	Cells  []string
}

// globbed reports that a name fits a glob, whatever the capitals. "" fits all.
func globbed(glob, name string) bool {
	if glob == "" {
		return true
	}
	return regexp.MustCompile(globPattern(glob)).MatchString(fold(name))
}

// globPattern writes a glob as a regular expression for folded names.
func globPattern(glob string) string {
	p := regexp.QuoteMeta(fold(glob))
	return `^` + strings.NewReplacer(`\*`, `.*`, `\?`, `.`).Replace(p) + `$`
}

// Choose finds the sheets of each source of the mapping: their numbers in the
// list, by source. A source that fits none, or more than one without many, is a
// mistake of the mapping, and so is a sheet that fits two sources.
func (m *Mapping) Choose(sheets []SheetID) (map[string][]int, error) {
	chosen := map[string][]int{}
	taken := map[int]string{}
	var found Mistakes
	for _, name := range slices.Sorted(maps.Keys(m.Sources)) {
		src, at := m.Sources[name], "sources."+name
		for i, id := range sheets {
			if (globbed(src.File, id.File) || globbed(src.File, path.Base(id.File))) && globbed(src.Sheet, id.Sheet) {
				chosen[name] = append(chosen[name], i)
			}
		}
		switch n := len(chosen[name]); {
		case n == 0:
			found = append(found, m.noSheet(at, src, sheets))
		case n > 1 && !src.Many:
			found = append(found, m.mistake(at, fmt.Sprintf("a source that fits %d files or sheets (%s)", n, listed(sheets, chosen[name])),
				"name the one that is meant with file and sheet, or write many = true if they are all alike"))
		}
		for _, i := range chosen[name] {
			if other, twice := taken[i]; twice {
				found = append(found, m.mistake(at, "a source that takes "+sheets[i].String()+", which the source "+shown(other)+" takes too", "let one source take it; several tables can have rows from one source"))
			}
			taken[i] = name
		}
	}
	if len(found) > 0 {
		return nil, found
	}
	return chosen, nil
}

func listed(sheets []SheetID, which []int) string {
	var names []string
	for _, i := range which {
		names = append(names, sheets[i].String())
	}
	return strings.Join(names, "; ")
}

func (m *Mapping) noSheet(at string, src Source, sheets []SheetID) Mistake {
	var files, names []string
	for _, id := range sheets {
		if !has(files, id.File) {
			files = append(files, id.File)
		}
		if id.Sheet != "" && (globbed(src.File, id.File) || globbed(src.File, path.Base(id.File))) {
			names = append(names, id.Sheet)
		}
	}
	if len(names) > 0 {
		return m.mistake(at+".sheet", "the sheet "+shown(src.Sheet)+", which the export does not have", near(src.Sheet, names)+"it has the sheets "+shownList(names))
	}
	return m.mistake(at+".file", "the file "+shown(src.File)+", which the export does not have", near(src.File, files)+"it has the files "+shownList(files))
}

// header is where a grid's header stands and what its words are.
type header struct {
	line  int64
	words []string // one a column; repeats and blanks made distinct
}

// headerWords makes the words of a header distinct: the second "Date" is Date#2,
// a column without a word is "column 5".
func headerWords(cells []string, width int) []string {
	words, seen := make([]string, width), map[string]int{}
	for i := range words {
		w := ""
		if i < len(cells) {
			w = strings.Join(strings.FieldsFunc(cells[i], isBlank), " ")
		}
		if w == "" {
			w = "column " + strconv.Itoa(i+1)
		}
		seen[fold(w)]++
		if n := seen[fold(w)]; n > 1 {
			w += "#" + strconv.Itoa(n)
		}
		words[i] = w
	}
	return words
}

// column gives the number of the column that a word names, -1 if none does. The
// first of several columns of one name may be called Date or Date#1.
func (h header) column(word string) int {
	word = strings.TrimSuffix(fold(word), "#1")
	return slices.IndexFunc(h.words, func(w string) bool { return fold(w) == word })
}

// findHeader finds the header of a grid: on the line that the source names, else
// on the first line that has the most of the mapping's words.
func findHeader(src Source, g Grid, words []string) (header, bool) {
	best, bestHits := header{}, -1
	for _, l := range g.Head {
		h := header{l.Number, headerWords(l.Cells, g.Width)}
		if src.Header > 0 {
			if l.Number == src.Header {
				return h, true
			}
			continue
		}
		hits := 0
		for _, w := range words {
			if h.column(w) >= 0 {
				hits++
			}
		}
		if hits > bestHits {
			best, bestHits = h, hits
		}
	}
	return best, bestHits > 0
}

// wanted is a header word that the mapping uses and where it does so.
type wanted struct{ word, path string }

// wantedOf lists the words that the fills of a source use, in the order of the
// contract, each once and with the words of Each in place of {n}.
func (m *Mapping) wantedOf(source string) []wanted {
	var list []wanted
	seen := map[string]bool{}
	add := func(path string, f Fill, words []string) {
		for _, w := range words {
			for _, turn := range f.turns() {
				full := strings.ReplaceAll(w, turnMark, turn)
				if !seen[fold(full)] {
					seen[fold(full)] = true
					list = append(list, wanted{full, path})
				}
			}
		}
	}
	for _, t := range bundle.Tables {
		for i, f := range m.Fills(t.Name) {
			if f.From != source {
				continue
			}
			at := fmt.Sprintf("%s.%d", t.Name, i)
			for j, w := range f.Where {
				add(fmt.Sprintf("%s.where.%d", at, j), f, []string{w.Column})
			}
			for _, col := range t.Columns {
				if spec, ok := f.Columns[col.Name]; ok {
					add(at+".columns."+col.Name, f, spec.wordsIn())
				}
			}
		}
	}
	return list
}

// locate finds the header of a grid and the column of every word that the mapping
// uses in it.
func (m *Mapping) locate(source string, g Grid) (header, map[string]int, error) {
	src := m.Sources[source]
	want := m.wantedOf(source)
	words := make([]string, len(want))
	for i, w := range want {
		words[i] = w.word
	}
	h, ok := findHeader(src, g, words)
	if !ok && src.Header > 0 {
		return h, nil, Mistakes{m.mistake("sources."+source+".header", fmt.Sprintf("a header on line %d, where %s has none", src.Header, g.SheetID), "give the line on which the column words stand; it must be among the first lines")}
	}
	if !ok {
		return h, nil, Mistakes{m.mistake("sources."+source, "a source of which no column word stands in "+g.String(), "check that it is the right file; the words asked for are "+shownList(words))}
	}
	at := map[string]int{}
	var found Mistakes
	for _, w := range want {
		i := h.column(w.word)
		if i < 0 {
			found = append(found, m.mistake(w.path, fmt.Sprintf("the column word %s, which %s does not have on line %d", shown(w.word), g.SheetID, h.line), near(w.word, m.safely(h.words))+"its columns are "+shownList(m.safely(h.words))))
			continue
		}
		at[fold(w.word)] = i
	}
	if len(found) > 0 {
		return h, nil, found
	}
	return h, at, nil
}

// safely gives the words of a header as a message may show them: a file without a
// header has a row of cells in its place.
func (m *Mapping) safely(words []string) []string {
	if m.safe == nil {
		return words
	}
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = m.safe(w)
	}
	return out
}

// Wrong makes a mistake at a place of the file, such as cleared.0.
func (m *Mapping) Wrong(path, found, remedy string) Mistakes {
	return Mistakes{m.mistake(path, found, remedy)}
}

// Covers reports whether the name that a clearance gives as its table means this
// sheet, which the named source takes.
func (c Cleared) Covers(id SheetID, source string) bool {
	names := []string{source, id.File, path.Base(id.File), id.Sheet, id.String()}
	for _, n := range names {
		if n != "" && globbed(c.Table, n) {
			return true
		}
	}
	return false
}
