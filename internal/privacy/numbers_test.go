package privacy

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// examples are numbers that issuers or standards publish to explain their check,
// or that are widely printed as examples; the source stands beside each. All are
// quoted from memory. The checks themselves were written without them.
var examples = []struct {
	scheme, number, source string
	kind                   Kind
}{
	{"us ssn", "078-05-1120", "Social Security Administration, the number of the 1938 wallet insert, withdrawn", NationalNumber},
	{"nhs", "943 476 5919", "NHS Data Dictionary, NHS NUMBER", NationalNumber},
	{"de tax", "86 095 742 719", "Bundeszentralamt für Steuern, example of the check digit", NationalNumber},
	{"de health", "A123456780", "example of the format in documents of the German health telematics", HealthPlan},
	{"de pension", "15070649C103", "Deutsche Rentenversicherung, sample card", NationalNumber},
	{"nl bsn", "111222333", "Rijksdienst voor Identiteitsgegevens, test number", NationalNumber},
	{"fr nir", "2 55 08 14 168 025 38", "INSEE, sample card", NationalNumber},
	{"se person", "19121212-1212", "Skatteverket, the person of its examples", NationalNumber},
	{"fi person", "131052-308T", "Digital and Population Data Services Agency, its example", NationalNumber},
	{"es dni", "12345678-Z", "Ministerio del Interior, specimen", NationalNumber},
	{"it code", "RSSMRA85T10A562S", "specimen of the tax card", NationalNumber},
	{"pl pesel", "44051401359", "widely printed example", NationalNumber},
	{"pt nif", "123456789", "widely printed example", NationalNumber},
	{"br cpf", "111.444.777-35", "widely printed example", NationalNumber},
	{"be national", "93.05.18-223.61", "widely printed example", NationalNumber},
	{"ch ahv", "756.9217.0769.85", "Bundesamt für Sozialversicherungen, sample", NationalNumber},
	{"ca sin", "046 454 286", "widely printed example, not issued", NationalNumber},
	{"au medicare", "2123 45670 1", "widely printed example", HealthPlan},
	{"in aadhaar", "9999 4105 7058", "UIDAI, test number", NationalNumber},
	{"cn id", "11010519491231002X", "GB 11643-1999, example", NationalNumber},
	{"at social", "1237 010180", "Dachverband der Sozialversicherungsträger, sample card", NationalNumber},
	{"tr person", "10000000146", "widely printed example", NationalNumber},
	{"za id", "8001015009087", "widely printed example", NationalNumber},
	{"iban", "DE89 3704 0044 0532 0130 00", "IBAN Registry, Germany", Account},
	{"iban", "GB29 NWBK 6016 1331 9268 19", "IBAN Registry, United Kingdom", Account},
	{"card", "4111 1111 1111 1111", "test number of card acquirers", Account},
	{"imei", "490154203237518", "widely printed example of 3GPP TS 23.003", DeviceSerial},
}

// changed gives the number with its last figure another: check digits catch it.
func changed(s string) string {
	last := s[len(s)-1]
	next := byte('0')
	switch {
	case last == 'Z':
		next = 'Y'
	case last >= 'A':
		next = last + 1
	case last < '9':
		next = last + 1
	}
	return s[:len(s)-1] + string(next)
}

func schemeNamed(t *testing.T, name string) scheme {
	t.Helper()
	for _, s := range schemes {
		if s.name == name {
			return s
		}
	}
	require.Fail(t, "no scheme "+name)
	return scheme{}
}

func TestPublishedNumbersPass(t *testing.T) {
	unchecked := map[string]bool{"us ssn": true, "it code": true} // judged by shape alone
	for _, e := range examples {
		s := schemeNamed(t, e.scheme)
		n := strings.ToUpper(separators.Replace(e.number))
		require.True(t, s.shape.MatchString(n), "%s: %s", e.scheme, e.number)
		assert.True(t, s.valid(n), "%s: %s (%s)", e.scheme, e.number, e.source)
		assert.Equal(t, e.kind, s.kind, e.scheme)
		if !unchecked[e.scheme] && e.scheme != "au medicare" { // its last figure is the card's issue
			assert.False(t, s.valid(changed(n)), "%s: %s with another last figure", e.scheme, e.number)
		}
	}
	assert.True(t, validVIN("1M8GDM9AXKP042788"), "widely printed example of 49 CFR 565")
	assert.False(t, validVIN("1M8GDM9A1KP042788"))
	assert.False(t, validVIN("1M8GDM9AXKO042788"), "the letter O does not occur")
	for _, s := range []string{"000121234", "666121234", "123001234", "123120000"} {
		assert.False(t, validSSN(s), s)
	}
}

// TestChanceIsWhatRandomNumbersGive holds every scheme's chance against 100,000
// random numbers of its shape: not far off, so that tallies mean what they say.
func TestChanceIsWhatRandomNumbersGive(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 11)) //nolint:gosec // a simulation
	tried := 0
	for length := 8; length <= 16; length++ {
		draw, numbers := pattern(strings.Repeat("9", length)), make([]string, 100_000)
		for i := range numbers {
			numbers[i] = draw(r)
		}
		for _, s := range schemes {
			seen, passed := 0, 0
			for i, n := range numbers {
				if s.chance == 1 || i == 2000 && seen == 0 { // a thousand of the shape would have begun to show
					break
				}
				if s.name == "de health" {
					n = "K" + n[1:]
				}
				if !s.shape.MatchString(n) {
					continue
				}
				seen++
				if s.valid(n) {
					passed++
				}
			}
			if seen < 1000 {
				continue
			}
			tried++
			got := float64(passed) / float64(seen)
			assert.LessOrEqual(t, got, 1.25*s.chance+0.0003, "%s with %d figures", s.name, length)
		}
	}
	assert.GreaterOrEqual(t, tried, 15)
}

func TestNumbersAreSureOnlyWhenWrittenAsIssued(t *testing.T) {
	assert.True(t, anySure(classify("943 476 5919")))
	assert.False(t, anySure(classify("9434765919")), "one in eleven numbers of ten figures passes")
	assert.True(t, anySure(classify("GB29NWBK60161331926819")))
	assert.True(t, anySure(classify("she gave her number as 078-05-1120 and wants to be called back")))
}
