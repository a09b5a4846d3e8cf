package mapping

import (
	_ "embed"
	"slices"
	"strings"
	"sync"
	"unicode"

	"github.com/pelletier/go-toml/v2"
)

//go:embed words.toml
var wordsFile []byte

// wordList is what practices call things, see words.toml.
type wordList struct {
	Headers map[string][]string            `toml:"headers"`
	Values  map[string]map[string][]string `toml:"values"`
	Rows    map[string][]string            `toml:"rows"`
	Units   map[string][]string            `toml:"units"`
	Small   struct {
		Words []string `toml:"words"`
	} `toml:"small"`
}

// words reads the word list, which is part of the program, once.
var words = sync.OnceValue(func() wordList {
	var w wordList
	if err := toml.Unmarshal(wordsFile, &w); err != nil {
		panic("words.toml: " + err.Error())
	}
	return w
})

// withoutAccents brings letters down to what people type without them.
var withoutAccents = strings.NewReplacer("ä", "a", "ö", "o", "ü", "u", "ß", "ss", "à", "a", "á", "a", "â", "a", "ã", "a", "å", "a", "ç", "c",
	"è", "e", "é", "e", "ê", "e", "ë", "e", "ì", "i", "í", "i", "î", "i", "ï", "i", "ñ", "n", "ò", "o", "ó", "o", "ô", "o", "õ", "o",
	"ù", "u", "ú", "u", "û", "u", "œ", "oe", "æ", "ae", "ÿ", "y")

// plainWords cuts a text into words of plain letters and digits.
func plainWords(s string) []string {
	return strings.FieldsFunc(withoutAccents.Replace(strings.ToLower(s)), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	})
}

// plain is a text as the word list has it.
func plain(s string) string { return strings.Join(plainWords(s), " ") }

// headerText is what is left of a header's word for comparing: without its unit,
// its number and the small words.
func headerText(word string) string {
	tokens := plainWords(strings.ReplaceAll(word, turnMark, " "))
	if u, _ := unitInHeader(word); u != "" && len(tokens) > 1 && u != "min" {
		tokens = tokens[:len(tokens)-1]
	}
	small := words().Small.Words
	kept := slices.DeleteFunc(slices.Clone(tokens), func(t string) bool { return has(small, t) })
	if len(kept) == 0 {
		kept = tokens
	}
	return strings.Join(kept, " ")
}

// unitInHeader finds a unit at the end of a header's word, such as "Lip (mm)", and
// gives it with the word that says so.
func unitInHeader(word string) (unit, said string) {
	tokens := plainWords(word)
	if len(tokens) < 2 {
		return "", ""
	}
	last := tokens[len(tokens)-1]
	for _, u := range []string{"mm", "cm", "in", "days", "weeks", "h", "min"} {
		if has(words().Units[u], last) {
			return u, last
		}
	}
	return "", ""
}

// alike says how well a header's word fits a word of the list, in [0,1].
func alike(header, known string) float64 {
	if header == known {
		return 1
	}
	ht, kt := strings.Fields(header), strings.Fields(known)
	share := float64(min(len(header), len(known))) / float64(max(len(header), len(known), 1))
	joinedHeader, joinedKnown := strings.Join(ht, ""), strings.Join(kt, "")
	switch {
	case joinedHeader == joinedKnown:
		return 0.95
	case within(kt, ht):
		return 0.55 + 0.35*share
	case misspelt(joinedHeader, joinedKnown):
		return 0.75
	case len(joinedKnown) >= 5 && strings.Contains(joinedHeader, joinedKnown):
		return 0.4 + 0.4*share
	}
	return 0
}

// misspelt reports that a header is a known word of some length but for a letter or two.
func misspelt(header, known string) bool {
	apart := Edits([]rune(header), []rune(known))
	return len(known) >= 9 && apart <= 2 || len(known) >= 5 && apart <= 1
}

// within reports that all words of a stand among those of b.
func within(a, b []string) bool {
	for _, w := range a {
		if !has(b, w) {
			return false
		}
	}
	return len(a) > 0
}

// headerFit says how well a header's word fits a thing of the list, and through
// which of its words.
func headerFit(word, thing string) (fit float64, through string) {
	text := headerText(word)
	for _, known := range words().Headers[thing] {
		if f := alike(text, known); f > fit {
			fit, through = f, known
		}
	}
	return fit, through
}

// codeFor looks a value up among the words for the codes of a column, and the
// column's own codes. "" is no code.
func codeFor(list, value string, codes []string) string {
	p := plain(value)
	if own := strings.ReplaceAll(p, " ", "_"); has(codes, own) {
		return own
	}
	for _, code := range codes {
		if has(words().Values[list][code], p) || p == "" && has(words().Values[list][code], strings.TrimSpace(value)) {
			return code
		}
	}
	return ""
}
