package privacy

import (
	"net/netip"
	"regexp"
	"strings"
	"unicode"
)

// hit is what a value looks like. A sure hit is a finding in any column; another
// needs a header that speaks of its kind, or company: enough values of the same
// tag, or a check digit that is right far more often than by chance.
type hit struct {
	kind   Kind
	sure   bool
	tag    string  // which rule, for counting alike values
	chance float64 // for check digits: how often a random value passes
	passed bool    // for check digits: whether this one does
}

// traits are what a first look at a value tells.
type traits struct {
	letters, digits, words, runes int
	at, dot, slash, colon, hyphen bool
}

// plain reports a value of letters and digits alone, as random keys are.
func (t traits) plain() bool { return t.letters+t.digits == t.runes }

func look(v string) (t traits) {
	blank := true
	for _, r := range v {
		t.runes++
		switch {
		case unicode.IsDigit(r):
			t.digits++
		case unicode.IsLetter(r):
			t.letters++
		case r == '@':
			t.at = true
		case r == '.':
			t.dot = true
		case r == '/':
			t.slash = true
		case r == ':':
			t.colon = true
		case r == '-' || r == '–':
			t.hyphen = true
		}
		if space := unicode.IsSpace(r); space {
			blank = true
		} else if blank {
			t.words++
			blank = false
		}
	}
	return t
}

// classify says what a value looks like, without regard to its column. It is the
// entry that the fuzz target feeds: any text must pass through it.
func classify(text string) []hit {
	v := strings.TrimSpace(strings.ReplaceAll(text, "\u00a0", " "))
	t := look(v)
	if t.letters+t.digits < 2 {
		return nil
	}
	switch uuidShape(v) { // it looks like many things by chance
	case drawnUUID:
		return nil
	case madeUUID:
		return []hit{{kind: Hash, tag: "uuid"}}
	}
	if k := turnsOf([]byte(v)); k.marks > 0 && k.ofToken([]byte(v)) { // likewise
		return nil
	}
	var hits []hit
	hits = append(hits, networkHits(v, t)...)
	hits = append(hits, codeHits(v, t)...)
	if t.digits > 0 {
		if !t.plain() || t.runes <= longestPlainDate {
			hits = append(append(hits, dateHits(v, t)...), ageHits(v)...)
		}
		numbers := numberHits(v, t)
		hits = append(hits, numbers...)
		if !anySure(numbers) {
			hits = append(hits, phoneHits(v, t)...)
		}
		hits = append(hits, vehicleHits(v, t)...)
	}
	hits = append(hits, addressHits(v, t)...)
	hits = append(hits, townHits(v, t)...)
	hits = append(hits, nameHits(v, t)...)
	return append(hits, textHits(t)...)
}

func anySure(hits []hit) bool {
	for _, h := range hits {
		if h.sure {
			return true
		}
	}
	return false
}

var (
	mailLike = regexp.MustCompile(`[\p{L}\d._%+-]+@[\p{L}\d-]+(?:\.[\p{L}\d-]+)+`)
	urlLike  = regexp.MustCompile(`(?i)\b(?:https?|ftp|file)://\S|\bwww\.[a-z0-9-]+\.[a-z]{2,}|^[a-z0-9-]+(?:\.[a-z0-9-]+)*\.(?:com|org|net|info|eu|de|uk|fr|es|it|nl|se|dk|no|fi|pl|pt|at|ch|be|cz|ie|us|ca|au|io|health|dental)(?:/\S*)?$`)
	macLike  = regexp.MustCompile(`(?i)^(?:[0-9a-f]{2}[:-]){5}[0-9a-f]{2}$`)
	fileLike = regexp.MustCompile(`(?i)\S\.(?:jpe?g|png|heic|heif|bmp|gif|tiff?|webp)$`)
)

// networkHits looks for e-mail, web and network addresses and picture files.
func networkHits(v string, t traits) (hits []hit) {
	if t.at && mailLike.MatchString(v) {
		hits = append(hits, hit{kind: Email, sure: true})
	}
	if t.dot && t.letters > 3 && !t.at && urlLike.MatchString(v) {
		hits = append(hits, hit{kind: URL, sure: true})
	} else if t.dot && t.letters > 2 && fileLike.MatchString(v) {
		hits = append(hits, hit{kind: Photo, sure: true})
	}
	if t.digits > 2 && t.words == 1 && (t.dot || t.colon || t.hyphen) {
		if macLike.MatchString(v) {
			return append(hits, hit{kind: DeviceSerial, sure: true})
		}
		if network(v) {
			hits = append(hits, hit{kind: IPAddress, sure: true})
		}
	}
	return hits
}

// network reports an address of IP version 4 or 6, with or without port or mask.
// Four small numbers are more often a version: one part must be 25 or more.
func network(v string) bool {
	if p, err := netip.ParsePrefix(v); err == nil {
		return p.Addr().Is6() || large(p.Addr())
	}
	if p, err := netip.ParseAddrPort(v); err == nil {
		return large(p.Addr())
	}
	a, err := netip.ParseAddr(v)
	return err == nil && (a.Is6() && len(v) > 4 || a.Is4() && large(a))
}

func large(a netip.Addr) bool {
	if !a.Is4() {
		return true
	}
	for _, b := range a.As4() {
		if b >= 25 {
			return true
		}
	}
	return false
}

var (
	hexLike    = regexp.MustCompile(`^(?i:[0-9a-f]{` + hashDigits("}|[0-9a-f]{") + `})$`)
	base64Like = regexp.MustCompile(`^(?:[A-Za-z0-9+/]{22}==|[A-Za-z0-9+/]{27}=|[A-Za-z0-9+/]{43}=|[A-Za-z0-9+/]{86}==)$`)
	recordTag  = regexp.MustCompile(`(?i)\b(?:mrn|chart (?:no|number)|pat(?:ient)?(?:en)?[.-]?\s?(?:nr|no|id)|hospital (?:no|number)|dossier (?:n°|no|nr)|nhc|akten(?:zeichen|nummer))\b[.:#°\s]*[A-Z-]{0,4}\d{3,}`)
	serialTag  = regexp.MustCompile(`(?i)(?:\b(?:s/n|serial(?: no| number)?|sn|ser\.?-?nr|imei|seriennummer)\b[.:#\s]+[A-Z0-9-]*\d{3,})|\(21\)[A-Z0-9]{3,}`)
)

// codeHits looks for bare hashes and for numbers that say what they are.
func codeHits(v string, t traits) (hits []hit) {
	if t.words == 1 && t.runes >= 24 {
		if hexLike.MatchString(v) && t.letters > 0 && t.digits > 0 || base64Like.MatchString(v) && t.digits > 0 {
			return []hit{{kind: Hash, sure: true}}
		}
	}
	if t.digits >= 3 && t.letters >= 2 && !t.plain() { // what both look for ends in the middle
		if recordTag.MatchString(v) {
			hits = append(hits, hit{kind: MedicalRecord, sure: true})
		}
		if serialTag.MatchString(v) {
			hits = append(hits, hit{kind: DeviceSerial, sure: true})
		}
	}
	return hits
}

// Free text: this long is no code and no list of codes. House rule, no source.
const (
	longWords, longRunes = 8, 80
	hugeRunes            = 160
)

func textHits(t traits) []hit {
	switch {
	case t.words >= 4 && t.runes >= hugeRunes:
		return []hit{{kind: FreeText, sure: true}}
	case t.words >= longWords || t.words >= 4 && t.runes >= longRunes:
		return []hit{{kind: FreeText, tag: "long"}}
	}
	return nil
}
