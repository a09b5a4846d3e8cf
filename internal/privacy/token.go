package privacy

import (
	"fmt"
	"slices"
	"strings"
)

// A random token is a key of letters and digits alone, such as 128 bits in base 62, a sortable
// time and random bits in base 32, or the first digits of a keyed hash. Each, or each few,
// would otherwise have a shape of their own. The rules find nothing in a token: what they know
// of that length are account and tax numbers, dates and bare hashes, which are no tokens.
const (
	shortestToken    = longestPlainDate + 1
	shortestHexToken = 16 // hexadecimal digits spell no date in so many turns
	// fewestTurns is how often capitals, other letters and digits take turns at least: what a
	// person numbers has a word or two and a number behind it. Hexadecimal digits take fewer.
	// House rule.
	fewestTurns, fewestHexTurns = 6, 4
	// tokenByte is what the shape of a token has for each of its letters and digits; no other
	// value has it.
	tokenByte = 'h'
)

// Lengths of numbers that hold letters and digits.
const lengthOfTaxCode, longestIBAN = 16, 34

// hashLengths are how many hexadecimal digits bare hashes have.
var hashLengths = []int{32, 40, 56, 64, 96, 128}

// hashDigits writes them with something between.
func hashDigits(between string) string {
	return strings.Join(strings.Fields(strings.Trim(fmt.Sprint(hashLengths), "[]")), between)
}

// isToken reports a random token.
func isToken(text []byte) bool {
	if len(text) < shortestHexToken { // as most keys are
		return false
	}
	return turnsOf(text).ofToken(text)
}

// ofToken is isToken of the text that takes these turns.
func (t turns) ofToken(text []byte) bool {
	n := len(text)
	switch {
	case !t.plain, t.digits == 0, n < shortestHexToken, n == lengthOfTaxCode && letters(text) >= 6, n <= longestIBAN && letters(text) == 2 && shapeByte[text[3]] == '9':
		return false
	case t.hexadecimal:
		return t.taken >= fewestHexTurns && !slices.Contains(hashLengths, n)
	}
	return t.taken >= fewestTurns && n >= shortestToken
}

// turns are how often capitals, other letters and digits of a text take turns, its digits,
// and whether it has nothing else, and none but hexadecimal digits.
type turns struct {
	taken, digits      int
	plain, hexadecimal bool
}

// turnsOf looks at a text; of one that is not plain it says no more.
func turnsOf(text []byte) turns {
	t := turns{plain: true, hexadecimal: true}
	for i, b := range text {
		of := shapeByte[b]
		switch {
		case of != '9' && of != 'a' && of != 'A':
			return turns{}
		case i > 0 && of != shapeByte[text[i-1]]:
			t.taken++
		}
		if of == '9' {
			t.digits++
		}
		t.hexadecimal = t.hexadecimal && (of == '9' || b|' ' <= 'f')
	}
	return t
}

// letters counts the letters before the first digit.
func letters(text []byte) int {
	return slices.IndexFunc(text, func(b byte) bool { return shapeByte[b] == '9' })
}

// ofTokens reports the shape of random tokens.
func ofTokens(shape string) bool {
	return strings.Trim(shape, string(tokenByte)) == ""
}

// tokenSQL is the SQL that reports a random token x, of which plain is what stands for its
// letters and digits, as isToken does.
func tokenSQL(plain string) string {
	return fmt.Sprintf("length(x) >= %[2]d AND regexp_full_match(%[1]s, '[9aA]+') AND contains(%[1]s, '9') "+
		"AND NOT (length(x) = %[3]d AND regexp_full_match(%[1]s, '[aA]{6}.*')) AND NOT (length(x) <= %[4]d AND regexp_full_match(%[1]s, '[aA]{2}99.*')) "+
		"AND CASE WHEN regexp_full_match(x, '[0-9a-fA-F]+') THEN length(regexp_replace(%[1]s, '9+|a+|A+', 'x', 'g')) > %[5]d AND length(x) NOT IN (%[6]s) "+
		"ELSE length(regexp_replace(%[1]s, '9+|a+|A+', 'x', 'g')) > %[7]d AND length(x) >= %[8]d END",
		plain, shortestHexToken, lengthOfTaxCode, longestIBAN, fewestHexTurns, hashDigits(", "), fewestTurns, shortestToken)
}
