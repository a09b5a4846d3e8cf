package privacy

import (
	"embed"
	"slices"
	"strings"
	"sync"
)

// data holds the word lists: header words by kind and language, names, towns, and
// plain answers that identify nobody. All were written for this project from
// general knowledge.
//
//go:embed data
var data embed.FS

// phrase is one entry of the header list: consecutive words, of which the first
// may end in * (any ending) and the last may begin with * (any start).
type phrase struct {
	kind  Kind
	not   bool // the phrase clears the kind instead
	words []string
}

var headerList = sync.OnceValue(func() []phrase {
	var list []phrase
	for line := range linesOf("data/headers.txt") {
		head, rest, _ := strings.Cut(line, "\t")
		_, words, _ := strings.Cut(rest, "\t") // the language is for the reader
		for _, w := range strings.Split(words, "|") {
			for _, k := range strings.Split(strings.TrimPrefix(head, "not:"), ",") {
				list = append(list, phrase{Kind(k), strings.HasPrefix(head, "not:"), strings.Fields(fold(w))})
			}
		}
	}
	return list
})

// linesOf yields the lines of an embedded list, without blanks and remarks.
func linesOf(name string) func(func(string) bool) {
	text, err := data.ReadFile(name)
	if err != nil {
		panic("privacy: " + err.Error()) // a mistake of the build
	}
	return func(yield func(string) bool) {
		for _, line := range strings.Split(string(text), "\n") {
			if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
				continue
			}
			if !yield(line) {
				return
			}
		}
	}
}

// headerKinds says which kinds a header speaks of and which it clears: "device
// name" is no name of a person.
func headerKinds(header string) (speaks, clears []Kind) {
	words := tokens(header)
	for _, p := range headerList() {
		if !p.in(words) {
			continue
		}
		if p.not {
			clears = append(clears, p.kind)
		} else if !slices.Contains(speaks, p.kind) {
			speaks = append(speaks, p.kind)
		}
	}
	speaks = slices.DeleteFunc(speaks, func(k Kind) bool { return slices.Contains(clears, k) })
	return speaks, clears
}

// in reports whether the phrase stands in the words, apart or written as one.
func (p phrase) in(words []string) bool {
	joined := strings.Join(p.words, "")
	for i, w := range words {
		if matches(joined, w) {
			return true
		}
		if i+len(p.words) > len(words) {
			continue
		}
		all := true
		for j, want := range p.words {
			all = all && matches(want, words[i+j])
		}
		if all {
			return true
		}
	}
	return false
}

func matches(pattern, word string) bool {
	switch {
	case strings.HasSuffix(pattern, "*"):
		return strings.HasPrefix(word, pattern[:len(pattern)-1])
	case strings.HasPrefix(pattern, "*"):
		return strings.HasSuffix(word, pattern[1:])
	}
	return pattern == word
}
