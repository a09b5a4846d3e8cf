package privacy

import (
	"strings"
	"unicode"
)

// folds turns letters with marks into plain ones, so that one entry of a word list
// meets every way of writing it.
var folds = foldTable(map[string]string{
	"a": "áàâäãåāăą", "c": "çćčĉ", "d": "ďđð", "e": "éèêëēėęě", "g": "ğģ", "i": "íìîïīįı", "k": "ķ", "l": "łľĺļ",
	"n": "ñńňņ", "o": "óòôöõøōő", "r": "řŕ", "s": "śšşș", "t": "ťţțþ", "u": "úùûüūůűų", "y": "ýÿ", "z": "źżž",
	"ss": "ß", "ae": "æ", "oe": "œ",
})

func foldTable(from map[string]string) map[rune]string {
	m := map[rune]string{}
	for to, runes := range from {
		for _, r := range runes {
			m[r] = to
		}
	}
	return m
}

// fold lowers a word and takes the marks off its letters.
func fold(s string) string {
	plain := true
	for i := 0; i < len(s); i++ {
		if s[i] >= 0x80 {
			plain = false
			break
		}
	}
	if plain {
		return strings.ToLower(s)
	}
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		switch to, ok := folds[r]; {
		case ok:
			b.WriteString(to)
		case unicode.IsMark(r):
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// tokens cuts a header into folded words: at everything but letters and digits,
// and where small letters turn to capitals.
func tokens(header string) []string {
	var b strings.Builder
	var last rune
	for _, r := range header {
		if unicode.IsUpper(r) && unicode.IsLower(last) {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
		last = r
	}
	return strings.FieldsFunc(fold(b.String()), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
}
