package mapping

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// Mistake is one thing wrong with a mapping file, or with how it fits an export.
type Mistake struct {
	File   string `json:"file"`
	Line   int    `json:"line"` // the first is 1; 0 where no line is to blame
	From   int    `json:"from"` // first column of what is wrong, the first is 1
	Width  int    `json:"width"`
	Text   string `json:"text"` // the line itself
	Found  string `json:"found"`
	Remedy string `json:"remedy"`
}

// String writes FILE:LINE:COLUMN: found X: do Y, and below it the line with a marker.
func (m Mistake) String() string {
	if m.Line == 0 {
		return fmt.Sprintf("%s: found %s: %s", m.File, m.Found, m.Remedy)
	}
	head := fmt.Sprintf("%s:%d:%d: found %s: %s", m.File, m.Line, m.From, m.Found, m.Remedy)
	number := fmt.Sprintf("%5d | ", m.Line)
	before := strings.Map(func(r rune) rune {
		if r == '\t' {
			return r
		}
		return ' '
	}, upTo(m.Text, m.From-1))
	return head + "\n" + number + m.Text + "\n" + strings.Repeat(" ", len(number)-2) + "| " + before + strings.Repeat("^", max(1, m.Width))
}

// upTo gives the first n characters of s.
func upTo(s string, n int) string {
	r := []rune(s)
	return string(r[:max(0, min(n, len(r)))])
}

// Mistakes are all that is wrong with a mapping, in the order of the file.
type Mistakes []Mistake

// Error writes every mistake.
func (ms Mistakes) Error() string {
	parts := make([]string, len(ms))
	for i, m := range ms {
		parts[i] = m.String()
	}
	return strings.Join(parts, "\n")
}

// shown writes a word for a message: quoted and short.
func shown(s string) string {
	const limit = 60
	if utf8.RuneCountInString(s) > limit {
		s = upTo(s, limit) + "..."
	}
	return fmt.Sprintf("%q", s)
}

// shownList writes words for a message, the first dozen.
func shownList(words []string) string {
	const limit = 12
	quoted := []string{}
	for i, w := range words {
		if i == limit {
			return strings.Join(quoted, ", ") + fmt.Sprintf(" and %d more", len(words)-limit)
		}
		quoted = append(quoted, shown(w))
	}
	return strings.Join(quoted, ", ")
}

// near names the candidate closest to a word, as "did you mean X? " or "".
func near(word string, candidates []string) string {
	best, bestAt := "", 1<<30
	for _, c := range candidates {
		if d := Edits([]rune(fold(word)), []rune(fold(c))); d < bestAt {
			best, bestAt = c, d
		}
	}
	if best == "" || bestAt > max(2, utf8.RuneCountInString(best)/3) {
		return ""
	}
	return "did you mean " + shown(best) + "? "
}

// Edits counts the parts (letters or bytes) to change, add or take out to make a into b.
func Edits[T comparable](a, b []T) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range a {
		corner := row[0]
		row[0] = i + 1
		for j := range b {
			change := corner
			if a[i] != b[j] {
				change++
			}
			corner = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// fold brings words that differ only in capitals and blanks together.
func fold(s string) string {
	return strings.ToLower(strings.Join(strings.FieldsFunc(s, isBlank), " "))
}

func isBlank(r rune) bool {
	return r == ' ' || r == '\t' || r == '\n' || r == '\r' || r == '\u00a0' || r == '\u202f' || r == '\ufeff'
}
