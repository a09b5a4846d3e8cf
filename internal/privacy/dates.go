package privacy

import (
	"regexp"
	"strconv"
	"strings"
	"time"
)

const monthNames = `(?:jan(?:uar[iy]?|uary|vier|uari|vāris)?|janv|ene(?:ro)?|gen(?:naio)?|jän(?:ner)?|janeiro|stycznia|feb(?:ruar[iy]?|rero|braio|bre)?|fév(?:rier)?|fevereiro|lutego|mar(?:ch|s|zo|ço|t|ca)?|mär(?:z)?|mrt|maart|marca|apr(?:il|ile)?|avr(?:il)?|abr(?:il)?|kwietnia|may|mai|mei|mayo|maj|mag(?:gio)?|maio|maja|jun[ie]?|juin|junio|giu(?:gno)?|junho|czerwca|jul[iy]?|juil(?:let)?|julio|lug(?:lio)?|julho|lipca|aug(?:ust|usti|ustus)?|août|aout|ago(?:sto)?|sierpnia|sept?(?:ember|embre|tembre|tiembre)?|set(?:tembre|embro)?|września|o[ck]t(?:ober|obre|ubre)?|ott(?:obre)?|out(?:ubro)?|października|nov(?:ember|embre|iembre|embro)?|listopada|de[cz](?:ember|embre|embro)?|dic(?:iembre|embre)?|déc(?:embre)?|grudnia)`

var (
	yearFirst  = regexp.MustCompile(`(?:^|[^\d])((?:18|19|20)\d{2})[-/.](\d{1,2})[-/.](\d{1,2})(?:[^\d-]|$)`)
	yearLast   = regexp.MustCompile(`(?:^|[^\d.])(\d{1,2})(?:\.\s?|[-/])(\d{1,2})(?:\.\s?|[-/])((?:18|19|20)\d{2})(?:[^\d-]|$)`)
	shortYear  = regexp.MustCompile(`^(\d{1,2})([./-])(\d{1,2})([./-])'?(\d{2})(?:\s+\d{1,2}[:.]\d{2}.*)?$`)
	withMonth  = regexp.MustCompile(`(?i)(?:^|[^\p{L}\d])\d{1,2}(?:st|nd|rd|th|er|\.|º)?[\s-]*(?:de\s+|of\s+)?` + monthNames + `\.?,?[\s-]*(?:de\s+|del\s+)?'?(?:\d{4}|\d{2})(?:[^\p{L}\d]|T\d|$)`)
	monthFirst = regexp.MustCompile(`(?i)(?:^|[^\p{L}])` + monthNames + `\.?\s+\d{1,2}(?:st|nd|rd|th)?,?\s+\d{4}(?:[^\d]|$)`)
	monthYear  = regexp.MustCompile(`(?i)^(?:` + monthNames + `\.?[\s-]+(?:de\s+)?(?:19|20)\d{2}|(?:19|20)\d{2}[-/.](?:0[1-9]|1[0-2])|(?:0?[1-9]|1[0-2])[-/.](?:19|20)\d{2}|(?:19|20)\d{2}[\s/-]?[QT][1-4]|[QT][1-4][\s/-]*(?:19|20)\d{2}|(?:19|20)\d{2}-?W[0-5]\d)$`)
	monthShort = regexp.MustCompile(`(?i)^(?:(?:0?[1-9]|1[0-2])[-/.]\d{2}|\d{1,2}[./-](?:0?[1-9]|1[0-2])\.?|` + monthNames + `\.?(?:[\s-]'?\d{2})?)$`)
	compact    = regexp.MustCompile(`^\d{8}$`)
	six        = regexp.MustCompile(`^\d{6}$`)
	serialDay  = regexp.MustCompile(`^[1-5]\d{4}(?:\.\d+)?$`)
	epoch      = regexp.MustCompile(`^1[0-9]{9}(?:\d{3})?$`)
	yearAlone  = regexp.MustCompile(`^(?:18|19|20)\d{2}$`)
	ageText    = regexp.MustCompile(`(?i)(?:^|[^\p{L}\d.,])(?:9\d|1[0-2]\d)[\s-]*(?:years?(?:[\s-]old)?|yrs?|y/?o|jahre?|jährig\w*|ans|años|anni|jaar|år|lat|anos|let)(?:[^\p{L}]|$)|(?i)\baged?\s+(?:9\d|1[0-2]\d)\b`)
)

// longestPlainDate is more than a date or an age in letters and digits alone takes, such as
// 31december2024: both are all of such a value, or none of it.
const longestPlainDate = 20

// dateHits looks for dates finer than a year.
func dateHits(v string, t traits) []hit {
	sure := []hit{{kind: Date, sure: true}}
	if t.digits >= 4 {
		if m := yearFirst.FindStringSubmatch(v); m != nil && validDay(m[1], m[2], m[3]) {
			return sure
		}
		if m := yearLast.FindStringSubmatch(v); m != nil && (validDay(m[3], m[2], m[1]) || validDay(m[3], m[1], m[2])) {
			return sure
		}
		if monthYear.MatchString(v) || t.letters >= 3 && (withMonth.MatchString(v) || monthFirst.MatchString(v)) {
			return sure
		}
	}
	if m := shortYear.FindStringSubmatch(v); m != nil && m[2] == m[4] && (validDay("20"+m[5], m[3], m[1]) || validDay("20"+m[5], m[1], m[3])) {
		return []hit{{kind: Date, tag: "short year"}}
	}
	if compact.MatchString(v) {
		first, last := compactDay(v[:4], v[4:6], v[6:]), compactDay(v[4:], v[2:4], v[:2])
		return []hit{{kind: Date, tag: "year first", chance: 0.0007, passed: first}, {kind: Date, tag: "year last", chance: 0.0007, passed: last}}
	}
	return nil
}

// validDay reports a day of the calendar.
func validDay(year, month, day string) bool {
	y, _ := strconv.Atoi(year)
	m, _ := strconv.Atoi(month)
	d, _ := strconv.Atoi(day)
	return m >= 1 && m <= 12 && d >= 1 && time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC).Day() == d
}

// compactDay is validDay for the years 1900 to 2099.
func compactDay(year, month, day string) bool {
	return (strings.HasPrefix(year, "19") || strings.HasPrefix(year, "20")) && validDay(year, month, day)
}

// dateUnder says whether a value is a date when its header speaks of one.
func dateUnder(v string) bool {
	if six.MatchString(v) && (validDay("20"+v[:2], v[2:4], v[4:]) || validDay("20"+v[4:], v[2:4], v[:2])) {
		return true
	}
	return monthShort.MatchString(v) || serialDay.MatchString(v) || epoch.MatchString(v) ||
		compact.MatchString(v) && (compactDay(v[:4], v[4:6], v[6:]) || compactDay(v[4:], v[2:4], v[:2]))
}

func ageHits(v string) []hit {
	if ageText.MatchString(v) {
		return []hit{{kind: Age, sure: true}}
	}
	return nil
}

// ageUnder says whether a value under a header about age is an age over 89 or a
// year of birth. A year of birth is allowed for the younger, but tells age; the
// age band is what the contract asks for.
func ageUnder(v string) bool {
	if yearAlone.MatchString(v) {
		return true
	}
	n, err := strconv.ParseFloat(strings.Replace(v, ",", ".", 1), 64)
	return err == nil && n >= 90 && n <= 130
}
