package privacy

import (
	"regexp"
	"strings"
)

var (
	phoneChars = regexp.MustCompile(`^[+(]?[\d\s()+./–-]+(?:(?:ext|x|dw|app)\.?\s?\d{1,5})?$`)
	phoneTag   = regexp.MustCompile(`(?i)\b(tel|telefon|telephone|phone|mobile?|handy|cell|fax|telefax|tlf|gsm)\b[.:\s]*[+(]?\d[\d\s()./-]{5,}`)
	phoneSure  = regexp.MustCompile(`^(?:(?:1[-. ])?\(?[2-9]\d{2}\)?[-. ]{1,2}\d{3}[-. ]\d{4}|\(\+?0?\d{1,5}\)[\s-]?\d[\d\s./-]{4,}|0\d([ .-]\d{2}){4}|0\d{1,5}\s?[ /–-]\s?\d{2,}[\d\s-]*)(?:\s*(?:ext|x|dw|app)\.?\s?\d{1,5})?$`)
	phoneWeak  = regexp.MustCompile(`^(?:[4-9]\d{2} \d{3} \d{3}|[6789]\d{2} \d{2} \d{2} \d{2}|\d{2} \d{2} \d{2} \d{2}|3\d{2} \d{6,7}|9\d{2} \d{3} \d{4}|0[1-9]\d{8,9}|00[1-9]\d{9,12}|\d{3}-\d{4})$`)
)

// phoneHits looks for telephone numbers; a number that says so is a fax number.
func phoneHits(v string, t traits) []hit {
	if t.digits < 7 {
		return nil
	}
	if t.letters > 0 {
		if m := phoneTag.FindStringSubmatch(v); m != nil {
			if strings.Contains(strings.ToLower(m[1]), "fax") {
				return []hit{{kind: Fax, sure: true}}
			}
			return []hit{{kind: Telephone, sure: true}}
		}
	}
	if t.digits > 20 || !phoneChars.MatchString(v) || yearFirst.MatchString(v) || yearLast.MatchString(v) {
		return nil
	}
	switch {
	case strings.HasPrefix(v, "+") && t.digits >= 8 && t.digits <= 16,
		strings.HasPrefix(v, "00") && len(v) > 16 && v[2] != '0' && t.digits >= 11 && t.digits <= 15,
		phoneSure.MatchString(v) && t.digits >= 8 && t.digits <= 16:
		return []hit{{kind: Telephone, sure: true}}
	case phoneWeak.MatchString(v):
		return []hit{{kind: Telephone, tag: "grouped"}}
	}
	return nil
}

var (
	streetSure = []*regexp.Regexp{
		regexp.MustCompile(`\b\d{1,5}[a-zA-Z]?,?\s+(?:[A-Z][\p{L}'.-]*\s+){1,4}(?i:street|st|road|rd|avenue|ave|lane|ln|drive|close|crescent|court|ct|way|place|terrace|gardens|boulevard|blvd|parkway|square|grove|hill|row)\b\.?`),
		regexp.MustCompile(`(?i)\p{L}{2,}(?:stra(?:ß|ss)e|str\.|weg|platz|allee|gasse|damm|ufer|chaussee|steig|straat|laan|plein|gracht|kade|singel|dreef|gatan|vägen|gränd|stigen|gade|vej|veien|gata|katu|tie)\s+\d{1,4}\s?[a-z]?\b`),
		regexp.MustCompile(`(?i)\p{L}{2,}[\s-]+(?:stra(?:ß|ss)e|str\.|weg|platz|allee|gasse|damm|ufer|utca)\s+\d{1,4}\s?[a-z]?\b`),
		regexp.MustCompile(`(?i)\b\d{1,4}\s?(?:bis|ter)?,?\s+(?:rue|avenue|boulevard|chemin|allée|impasse|quai|route|cours|place|square)\s+(?:de\s|du\s|des\s|d'|la\s|l')*\p{L}{2,}`),
		regexp.MustCompile(`(?i)(?:^|[\s,;])(?:calle|c/|avenida|avda\.?|plaza|paseo|camino|carrer|via|viale|piazza|corso|vicolo|largo|rua|travessa|praça|ulica|ul\.|aleja|al\.)\s*\p{L}[\p{L}\s.'-]{2,40},?\s*(?:n[.ºo°]*\s*)?\d{1,4}\b`),
		regexp.MustCompile(`(?i)\p{L}{3,}\s+(?:sokak|caddesi|cad\.|sok\.|utca|út|tér|ulice|náměstí)\s*(?:no[.:]?\s*)?\d{1,4}`),
		regexp.MustCompile(`(?i)\b(?:p\.?\s?o\.?\s?box|postfach|boîte postale|apartado de correos|casella postale|postbus|skrytka pocztowa|apartado)\s+\d+`),
		regexp.MustCompile(`(?i)\b(?:flat|apartment|apt|unit|suite)\.?\s+#?\d+[a-z]?,\s`),
	}
	postSure = regexp.MustCompile(`^(?:\d{5}-\d{4}|[A-Z]{1,2}\d[A-Z\d]?\s\d[ABD-HJLNP-UW-Z]{2}|[ABCEGHJ-NPRSTVXY]\d[A-Z]\s\d[A-Z]\d)$`)
	postWeak = regexp.MustCompile(`^(?:\d{4}\s?[A-Z]{2}|\d{2}-\d{3}|\d{4}-\d{3}|\d{3}\s\d{2}|(?:D|DE|F|FR|I|E)-\d{5}|(?:A|CH|B|L|DK|AT|BE)-\d{4}|\d{5}-\d{3}|(?i:[A-Z]{1,2}\d[A-Z\d]?\s?\d[ABD-HJLNP-UW-Z]{2}))$`)
)

// addressHits looks for streets with a number, post boxes and postal codes that
// have a shape of their own.
func addressHits(v string, t traits) []hit {
	if t.digits == 0 {
		return nil
	}
	if t.letters >= 4 && (t.words >= 2 || t.slash) {
		for _, re := range streetSure {
			if re.MatchString(v) {
				return []hit{{kind: Address, sure: true}}
			}
		}
	}
	switch {
	case t.runes > 10:
	case postSure.MatchString(v):
		return []hit{{kind: PostalCode, sure: true}}
	case postWeak.MatchString(v):
		return []hit{{kind: PostalCode, tag: "post"}}
	}
	return nil
}

// smallAreas are the three-digit ZIP areas with 20,000 people or fewer, which the
// rule asks to write as 000. Source: guidance of the US Department of Health and
// Human Services on de-identification, 2012, by the census of 2000; from memory.
var smallAreas = map[string]bool{"036": true, "059": true, "063": true, "102": true, "203": true, "556": true, "692": true, "790": true,
	"821": true, "823": true, "830": true, "831": true, "878": true, "879": true, "884": true, "890": true, "893": true}

var threeDigits = regexp.MustCompile(`^(\d{3})(?:[xX*]{1,2})?$`)

// postUnder says whether a value under a header about postal codes tells more
// than the rule allows.
func postUnder(v string) bool {
	if m := threeDigits.FindStringSubmatch(v); m != nil {
		return smallAreas[m[1]]
	}
	t := look(v)
	return t.digits >= 4 || t.digits >= 2 && t.letters >= 2
}

var plates = regexp.MustCompile(`^(?:[A-ZÄÖÜ]{1,3}[- ][A-Z]{1,2}[ -]?[1-9]\d{0,3}[HE]?|[A-HJ-PR-Y]{2}\d{2} [A-HJ-PR-Z]{3}|[A-HJ-NP-TV-Z]{2}[ -]\d{3}[ -][A-HJ-NP-TV-Z]{2}|\d{4} ?[B-DF-HJ-NP-TV-Z]{3}|[A-Z]{2,3} \d{4,5}|\d{2}-[A-Z]{2}-\d{2}|\d-[A-Z]{3}-\d{2,3}|\d{2}-[A-Z]{3}-\d|[A-Z]{3} \d{2}[A-Z\d]|[A-Z]{2} \d{3}[A-Z]{2})$`)

// vehicleNumber is the form of a vehicle number (ISO 3779, from memory): I, O and Q do not
// occur. Most end in four digits (ISO 3780, from memory), which tells a column of those that
// have no check digit.
var (
	vehicleNumber = regexp.MustCompile(`^(?i:[A-HJ-NPR-Z0-9]{17})$`)
	fourDigits    = regexp.MustCompile(`\d{4}$`)
)

// vehicleHits looks for plates and vehicle numbers by shape, and for vehicle numbers by
// check digit (49 CFR 565, from memory). Keys of 17 hexadecimal digits are none: hardly a
// vehicle number does without a letter behind F.
func vehicleHits(v string, t traits) (hits []hit) {
	if t.runes == 17 && t.letters > 0 && !turnsOf([]byte(v)).hexadecimal && vehicleNumber.MatchString(v) {
		valid := validVIN(v)
		hits = append(hits, hit{kind: Vehicle, tag: vinScheme, chance: 1.0 / 11, passed: valid, sure: valid})
		if fourDigits.MatchString(v) {
			hits = append(hits, hit{kind: Vehicle, tag: "plate"})
		}
		return hits
	}
	if t.runes <= 11 && t.letters > 0 && plates.MatchString(v) {
		return []hit{{kind: Vehicle, tag: "plate"}}
	}
	return nil
}
