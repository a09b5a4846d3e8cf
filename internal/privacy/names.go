package privacy

import (
	"regexp"
	"strings"
	"sync"
	"unicode"
)

// what a word is to the name lists; an ambiguous word is none of them alone.
type nameBits uint8

const (
	isGiven nameBits = 1 << iota
	isSurname
	isTown
	isAmbiguous
)

var nameList = sync.OnceValue(func() map[string]nameBits {
	m := map[string]nameBits{}
	for line := range linesOf("data/names.txt") {
		head, words, _ := strings.Cut(line, "\t")
		role, _, _ := strings.Cut(head, ":")
		bit := map[string]nameBits{"given": isGiven, "surname": isSurname, "town": isTown, "ambiguous": isAmbiguous}[role]
		for _, w := range strings.Fields(words) {
			m[w] |= bit
		}
	}
	return m
})

// plainList holds whole answers that identify nobody.
var plainList = sync.OnceValue(func() map[string]bool {
	m := map[string]bool{}
	for line := range linesOf("data/plain.txt") {
		for _, w := range strings.Split(line, "|") {
			m[w] = true
		}
	}
	return m
})

func plainAnswer(v string) bool {
	return plainList()[strings.Join(tokens(v), " ")]
}

// word is a word of a value as the name rules see it.
type word struct {
	bits          nameBits
	letters       int
	capital, dot  bool // begins with a capital; ends in a point
	initial, join bool // one letter; a particle such as "van"
}

var particles = map[string]bool{"van": true, "von": true, "der": true, "den": true, "de": true, "la": true, "le": true, "del": true, "di": true, "da": true, "dos": true, "das": true, "ten": true, "ter": true, "zu": true, "al": true, "el": true, "bin": true, "y": true, "e": true}

// wordsOf cuts at blanks; nil when a word holds anything but letters and the
// signs that names have.
func wordsOf(s string) []word {
	var list []word
	for _, f := range strings.Fields(s) {
		w := word{dot: strings.HasSuffix(f, ".")}
		f = strings.TrimSuffix(f, ".")
		for i, r := range f {
			switch {
			case unicode.IsLetter(r) || unicode.IsMark(r):
				w.letters++
				w.capital = w.capital || i == 0 && unicode.IsUpper(r)
			case !strings.ContainsRune("'’-.", r):
				return nil
			}
		}
		if w.letters == 0 {
			return nil
		}
		w.initial = w.letters == 1 || w.letters == 2 && strings.Contains(f, ".")
		w.join = particles[fold(f)]
		w.bits = nameBitsOf(f)
		list = append(list, w)
	}
	return list
}

// nameBitsOf looks a word up whole, without its apostrophe, and by the parts of a
// hyphenated one.
func nameBitsOf(f string) nameBits {
	key := strings.NewReplacer("'", "", "’", "").Replace(fold(f))
	if bits := nameList()[key]; bits != 0 || !strings.Contains(key, "-") {
		return bits
	}
	var all nameBits
	for _, part := range strings.Split(key, "-") {
		bits := nameList()[part]
		if bits == 0 {
			return 0
		}
		all |= bits &^ isAmbiguous // two names joined are no ordinary word
	}
	return all
}

func (w word) known(role nameBits) bool { return w.bits&role != 0 && w.bits&isAmbiguous == 0 }

var (
	titled    = regexp.MustCompile(`(?:^|[\s(,;])(?:(?:Mr|Mrs|Ms|Miss|Dr|Prof|Sr|Sra|Sig|Dhr|Mevr|Mme|Mlle|Hr|Fr)\.?|Frau|Herr|Herrn|Madame|Monsieur|Señora?|Signora?|Mevrouw|Meneer|Fru|Pani?|Senhora?|Dona|Don)\s+(?:[A-Z]\.\s*)?\p{Lu}[\p{L}'’-]{2,}`)
	dotted    = regexp.MustCompile(`^(?:\p{Lu}\.[\s-]?){2,4}$`)
	initialed = regexp.MustCompile(`^(?:(?:\p{Lu}\.[\s-]?){1,3}\p{Lu}[\p{L}'’-]{2,}|\p{Lu}[\p{L}'’-]{2,},?\s(?:\p{Lu}\.[\s-]?){1,3})$`)
	pair      = regexp.MustCompile(`\p{Lu}[\p{L}'’-]+\s+\p{Lu}[\p{L}'’-]+`)
)

// nameHits looks for names of people by list and by shape.
func nameHits(v string, t traits) []hit {
	if t.letters < 2 {
		return nil
	}
	if titled.MatchString(v) {
		return []hit{{kind: Name, sure: true}}
	}
	if t.digits > 0 || t.words > 5 {
		return nameInside(v)
	}
	if dotted.MatchString(v) {
		return []hit{{kind: Name, tag: "initials"}}
	}
	if left, right, ok := strings.Cut(v, ","); ok {
		return commaName(wordsOf(left), wordsOf(right))
	}
	return plainName(v, wordsOf(v))
}

// nameInside looks for a given name beside a surname in a longer text.
func nameInside(v string) []hit {
	for _, at := range pair.FindAllString(v, -1) {
		if ws := wordsOf(at); len(ws) == 2 && ws[0].known(isGiven) && ws[1].known(isSurname) {
			return []hit{{kind: Name, sure: true}}
		}
	}
	return nil
}

// commaName judges "Surname, Given": sure when one side is a known name and the
// other could be one.
func commaName(left, right []word) []hit {
	if len(left) == 0 || len(left) > 3 || len(right) == 0 || len(right) > 3 {
		return nil
	}
	l, r := left[len(left)-1], right[0]
	shaped := l.capital && r.capital
	switch {
	case l.known(isSurname) && (r.known(isGiven) || shaped && (r.initial || r.bits&isGiven != 0)),
		shaped && (l.known(isSurname|isGiven) || r.known(isGiven)),
		shaped && l.bits&isSurname != 0 && r.bits&isGiven != 0:
		return []hit{{kind: Name, sure: true}}
	case shaped:
		return []hit{{kind: Name, tag: "comma"}}
	}
	return nil
}

// plainName judges one to five words without a comma.
func plainName(v string, ws []word) []hit {
	given, surname, either, capitals, joins := 0, 0, 0, 0, 0
	for _, w := range ws {
		if w.join && len(ws) > 1 {
			joins++
			continue
		}
		switch {
		case w.known(isGiven) && w.known(isSurname):
			either++
		case w.known(isGiven):
			given++
		case w.known(isSurname):
			surname++
		}
		if w.capital {
			capitals++
		}
	}
	hits := given + surname + either
	full := len(ws) - joins
	switch {
	case full > 1 && hits > 1 && (given > 0 && surname > 0 || either > 0),
		full > 1 && hits > 0 && initialed.MatchString(v):
		return []hit{{kind: Name, sure: true}}
	case hits > 0 && capitals == full && full <= 3:
		return []hit{{kind: Name, tag: "listed"}}
	case initialed.MatchString(v):
		return []hit{{kind: Name, tag: "initials"}}
	}
	return nil
}

// townHit looks for larger towns by list, alone or behind a postal code.
var coded = regexp.MustCompile(`^(?:[A-Z]{1,2}-)?\d{4,5}\s+(\p{Lu}[\p{L}-]+)|\b(\p{Lu}[\p{L}-]+),?\s+[A-Z]{2},?\s+\d{5}(?:-\d{4})?$`)

func townHits(v string, t traits) []hit {
	if t.digits == 0 && t.words <= 3 && nameList()[fold(v)]&isTown != 0 {
		return []hit{{kind: Town, tag: "town"}}
	}
	if t.digits < 4 || t.letters < 3 {
		return nil
	}
	m := coded.FindStringSubmatch(v)
	if m == nil {
		return nil
	}
	if m[2] != "" || nameList()[fold(m[1])]&isTown != 0 {
		return []hit{{kind: PostalCode, sure: true}, {kind: Town, sure: true}}
	}
	return nil
}
