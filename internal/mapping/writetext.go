package mapping

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"afterfit/internal/bundle"
)

// text writes the whole proposal.
func (w *writer) text() string {
	var b strings.Builder
	b.WriteString("# A proposed mapping. Every line that says \"guess\" gives its reason: read it and correct it.\n" +
		"# A line that says " + BlankMark + " is a blank that must be filled before the mapping works.\n" +
		"# 'afterfit load --help' says what a mapping is made of.\n\n")
	w.export(&b)
	slices.SortFunc(w.sources, func(x, y *guessed) int { return strings.Compare(x.name, y.name) })
	for _, g := range w.sources {
		b.WriteString("\n" + strings.Join(w.sourceLines(g), "\n") + "\n")
	}
	for _, t := range bundle.Tables {
		if lines := w.fills[t.Name]; lines != nil {
			b.WriteString("\n" + strings.Join(lines, "\n") + "\n")
		}
	}
	for _, name := range slices.Sorted(maps.Keys(w.codes)) {
		if len(w.codes[name]) > 0 {
			b.WriteString("\n" + strings.Join(w.codeLines(name), "\n") + "\n")
		}
	}
	w.unused(&b)
	return b.String()
}

func (w *writer) export(b *strings.Builder) {
	fmt.Fprintf(b, "[export]\nname = %s\n", quoted(w.name))
	b.WriteString("basis = \"\"  # safe_harbor, limited_data_set or consented_local; only you can know\n")
	b.WriteString("invented = false  # true if no real person stands behind a row\n")
	b.WriteString("complete = false  # true if cases that are absent from a newer export are withdrawn\n")
	if w.comma {
		b.WriteString("decimal = \",\"  # guess: numbers are written like 6,5\n")
	}
	if form := w.mainForm(); form != "" {
		fmt.Fprintf(b, "date = %s  # guess: most dates are written so\n", quoted(form))
	}
	var needed []string
	for _, name := range w.absent {
		if t, _ := bundle.Find(name); t.Required {
			needed = append(needed, name)
		}
	}
	if len(w.absent) > 0 {
		why := "guess: nothing looks like it"
		if len(needed) > 0 {
			why += "; check whether the export has " + strings.Join(needed, ", ") + " after all"
		}
		fmt.Fprintf(b, "absent = %s  # %s\n", quotedList(w.absent), why)
	}
}

// sourceLines writes a source. Where the whole export is one file its name is left
// open: the next export will have another.
func (w *writer) sourceLines(g *guessed) []string {
	lines := []string{"[sources." + g.name + "]"}
	single := !slices.ContainsFunc(w.p.looks, func(s *SheetLook) bool { return s.File != g.File })
	switch {
	case !single:
		lines = append(lines, "file = "+quoted(g.File))
	case g.Sheet == "":
		lines = append(lines, `file = "*"  # guess: the export is one file`)
	}
	if g.Sheet != "" {
		lines = append(lines, "sheet = "+quoted(g.Sheet))
	}
	if g.Encoding != "" && g.Encoding != "utf-8" {
		lines = append(lines, "encoding = "+quoted(g.Encoding)+"  # guess: its bytes look like it")
	}
	if g.Delimiter != "" && g.Delimiter != "," {
		lines = append(lines, "delimiter = "+quoted(g.Delimiter)+"  # guess: it stands between the cells")
	}
	if len(g.Totals) > 0 {
		var globs []string
		for _, t := range g.Totals {
			globs = append(globs, t+"*")
		}
		lines = append(lines, "skip = "+quotedList(globs)+"  # guess: few cells, and the word of a total")
	}
	return lines
}

var bareKey = regexp.MustCompile(`^[A-Za-z0-9_-]+$`)

func (w *writer) codeLines(name string) []string {
	lines := []string{"[codes." + name + "]"}
	for _, word := range slices.Sorted(maps.Keys(w.codes[name])) {
		key, code := word, w.codes[name][word]
		if !bareKey.MatchString(word) {
			key = quoted(word)
		}
		line := key + " = " + quoted(code)
		if code == "" {
			line += "  # " + BlankMark + ": " + w.notes[name+"\n"+word]
		} else {
			line += "  # guess: a word for it"
		}
		lines = append(lines, line)
	}
	return lines
}

// unused lists the columns that no table takes, so that a reader can find what
// the guesses missed.
func (w *writer) unused(b *strings.Builder) {
	for _, g := range w.p.sheets {
		var left []string
		used := map[string]bool{}
		for _, f := range g.things {
			used[f.word] = true
		}
		for _, col := range candidates(g.SheetLook) {
			if !used[col.word] {
				left = append(left, col.word)
			}
		}
		if g.name == "" {
			fmt.Fprintf(b, "\n# No table takes rows from %s. Its columns: %s\n", g.SheetID, strings.Join(left, "; "))
		} else if len(left) > 0 {
			fmt.Fprintf(b, "\n# Columns of %s that nothing takes: %s\n", g.SheetID, strings.Join(left, "; "))
		}
	}
}
