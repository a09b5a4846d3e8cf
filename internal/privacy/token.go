package privacy

import (
	"fmt"
	"slices"
	"strings"
)

// A random token is a key of letters and digits, such as 128 bits in base 62, a sortable
// time and random bits in base 32, or the first digits of a keyed hash. Each, or each few,
// would otherwise have a shape of their own. The rules find nothing in a token: what they know
// of that length are account and tax numbers, dates and bare hashes, which are no tokens.
// In base 64 for addresses (RFC 4648, section 5), hyphens and underscores stand among letters
// and digits; such a token has both capitals and small letters in many turns, as nobody
// writes by hand, and no run of digits long enough for a number.
const (
	shortestToken    = longestPlainDate + 1
	shortestHexToken = 16 // hexadecimal digits spell no date in so many turns
	// fewestTurns is how often capitals, other letters and digits take turns at least: what a
	// person numbers has a word or two and a number behind it. Hexadecimal digits take fewer.
	// House rule.
	fewestTurns, fewestHexTurns = 6, 4
	// Of a token with hyphens or underscores, more than half of all letters and digits begin a turn,
	// at most one in four is a hyphen or underscore, and fewer digits than this stand together,
	// hyphens and underscores left out. House rule.
	manyDigits = 6
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
	case t.marks > 0:
		return n >= shortestToken && t.small && t.capitals && t.digits > 0 && !t.hexadecimal && t.digitRun < manyDigits && 2*t.taken > n-t.marks && 4*t.marks <= n
	case !t.plain, t.digits == 0, n < shortestHexToken, n == lengthOfTaxCode && letters(text) >= 6, n <= longestIBAN && letters(text) == 2 && shapeByte[text[3]] == '9':
		return false
	case t.hexadecimal:
		return t.taken >= fewestHexTurns && !slices.Contains(hashLengths, n)
	}
	return t.taken >= fewestTurns && n >= shortestToken
}

// turns are how often capitals, other letters and digits of a text take turns, its digits and
// how many of them stand together, and its hyphens and underscores, which are left out of
// these. It is plain if it has nothing but letters and digits.
type turns struct {
	taken, digits, digitRun, marks      int
	small, capitals, plain, hexadecimal bool
}

// turnsOf looks at a text; of one that has other signs it says nothing.
func turnsOf(text []byte) turns {
	t := turns{hexadecimal: true}
	run, before := 0, byte(0)
	for _, b := range text {
		of := shapeByte[b]
		switch {
		case of == '-' || of == '_':
			t.marks++
			continue
		case of != '9' && of != 'a' && of != 'A':
			return turns{}
		case of == before:
			run++
		default:
			if before != 0 {
				t.taken++
			}
			before, run = of, 1
		}
		t.small, t.capitals = t.small || of == 'a', t.capitals || of == 'A'
		if of == '9' {
			t.digits++
			t.digitRun = max(t.digitRun, run)
		}
		t.hexadecimal = t.hexadecimal && (of == '9' || b|' ' <= 'f')
	}
	t.plain = t.marks == 0
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
	bare := fmt.Sprintf("regexp_replace(%s, '[-_]', '', 'g')", plain)
	turns := "(length(regexp_replace(" + bare + ", '9+|a+|A+', 'x', 'g')) - 1)"
	return fmt.Sprintf("length(x) >= %[2]d AND regexp_full_match(%[1]s, '[9aA_-]+') AND contains(%[1]s, '9') "+
		"AND CASE WHEN regexp_matches(x, '[-_]') THEN length(x) >= %[8]d AND contains(%[1]s, 'a') AND contains(%[1]s, 'A') AND NOT regexp_full_match(x, '[0-9a-fA-F_-]+') "+
		"AND NOT contains(%[9]s, '%[10]s') AND 2 * %[11]s > length(%[9]s) AND 4 * (length(x) - length(%[9]s)) <= length(x) "+
		"ELSE NOT (length(x) = %[3]d AND regexp_full_match(%[1]s, '[aA]{6}.*')) AND NOT (length(x) <= %[4]d AND regexp_full_match(%[1]s, '[aA]{2}99.*')) "+
		"AND CASE WHEN regexp_full_match(x, '[0-9a-fA-F]+') THEN %[11]s >= %[5]d AND length(x) NOT IN (%[6]s) "+
		"ELSE %[11]s >= %[7]d AND length(x) >= %[8]d END END",
		plain, shortestHexToken, lengthOfTaxCode, longestIBAN, fewestHexTurns, hashDigits(", "), fewestTurns, shortestToken, bare, strings.Repeat("9", manyDigits), turns)
}
