package privacy

import (
	"strings"
	"unicode"
)

// maskedRunes bounds how much of a shape a message shows.
const maskedRunes = 32

// Mask writes a value's shape: A for capitals, a for other letters, 9 for digits,
// plain ASCII punctuation and single blanks as they are, ? for the rest. No letter
// and no digit of the value is left.
func Mask(s string) string {
	var b strings.Builder
	n := 0
	for _, r := range s {
		if n == maskedRunes {
			return b.String() + "..."
		}
		switch {
		case unicode.IsUpper(r):
			r = 'A'
		case unicode.IsLetter(r):
			r = 'a'
		case unicode.IsDigit(r):
			r = '9'
		case unicode.IsSpace(r):
			r = ' '
		case unicode.IsMark(r):
			continue
		case r > unicode.MaxASCII || !unicode.IsPrint(r):
			r = '?'
		}
		b.WriteRune(r)
		n++
	}
	return b.String()
}

// SafeHeader gives a header cell as it may be shown: masked where the cell itself
// looks like a person's value, as in a file whose header line is missing.
func SafeHeader(name string) string {
	for _, h := range classify(name) {
		if h.sure {
			return Mask(name)
		}
	}
	return name
}
