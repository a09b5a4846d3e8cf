package privacy

import (
	"strings"
)

// plausible says whether a value may be what its header speaks of. A header alone
// is no finding: "phone reminder: yes" identifies nobody.
func plausible(k Kind, text string) bool {
	v := strings.TrimSpace(text)
	t := look(v)
	if v == "" || plainAnswer(v) {
		return false
	}
	switch k {
	case Name:
		return t.digits == 0 && t.letters >= 2 && t.words <= 8
	case Address:
		return t.letters >= 3 && (t.digits > 0 || t.words >= 2)
	case Town:
		return t.digits == 0 && t.letters >= 3 && t.words <= 5
	case PostalCode:
		return t.runes <= 12 && postUnder(v)
	case Date:
		return dateUnder(v) || anyDate(v, t)
	case Age:
		return ageUnder(v)
	case Telephone, Fax:
		return t.digits >= 6 && t.digits <= 20 && t.letters <= 6
	case FreeText:
		return t.words >= 3 && t.letters >= 8
	case Biometric, Photo:
		return t.runes >= 4 && t.letters+t.digits >= 3
	}
	return plausibleNumber(k, t)
}

// plausibleNumber judges kinds that are numbers or codes.
func plausibleNumber(k Kind, t traits) bool {
	if t.words > 6 {
		return false
	}
	switch k {
	case NationalNumber:
		return t.digits >= 6
	case MedicalRecord:
		return t.digits >= 3
	case HealthPlan, Account, Licence:
		return t.digits >= 4
	case Vehicle:
		return t.digits >= 1 && t.digits+t.letters >= 4 && t.words <= 4
	case DeviceSerial:
		return t.digits >= 3 && t.digits+t.letters >= 5
	}
	return false
}

func anyDate(v string, t traits) bool {
	for _, h := range dateHits(v, t) {
		if h.sure || h.chance == 0 || h.passed {
			return true
		}
	}
	return false
}
