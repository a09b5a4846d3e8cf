package privacy

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	base62 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
	base64 = base62 + "-_"
)

func randomText(r *rand.Rand, n int, letters string) string {
	var b strings.Builder
	for range n {
		b.WriteByte(letters[r.IntN(len(letters))])
	}
	return b.String()
}

// TestWhatIsAToken: the first two are the examples of the publishers of two kinds of sortable
// keys (from memory).
func TestWhatIsAToken(t *testing.T) {
	for text, want := range map[string]bool{
		"01ARZ3NDEKTSV4RRFFQ69G5FAV":                true,
		"0ujtsYcgvSTl8PAuAdqWYSMnLOv":               true,
		"507f1f77bcf86cd799439011":                  true, // 24 hexadecimal digits are no hash
		"7aB3kQ9xZ2mN5pR8sT1uV":                     true,
		"7aB3kQ9xZ2mN5pR8sT1u":                      false, // 20
		"ab3c9d0e1f2a4b5c":                          true,  // 16 hexadecimal digits
		"ab3c9d0e1f2a4b5":                           false,
		"abcdef80a01b123c":                          false, // as a tax code of Italy is written
		"a0123456789abcdef":                         false,
		"abc012345678def0":                          false, // three turns
		"abc0123456d78ef0":                          true,
		"ab12345678c0d1e2":                          false,
		"7aB3kQ9xZ2mN5pR8sT1u-":                     true, // base 64
		"7aB3-Q9xZ_mN5pR8sT1uV":                     true,
		"V1StGXR8_Z5jdHi6B-myT":                     true,  // the example of a publisher of such keys, from memory
		"7aB3kQ9xZ2mN5pR8sT1-":                      false, // 20
		"7AB3KQ9XZ2MN5PR8ST1U-V7Z3":                 false, // capitals alone
		"7ab3kq9xz2mn5pr8st1u-v7z3":                 false, // small letters alone
		"7a-B3-kQ-9x-Z2-mN-5p-R8":                   false, // a third are hyphens
		"7aB3c-9eF2a-5bE8f-1aD4c":                   false, // hexadecimal digits
		"Ab7kQ-2024-03-19-xZ2mN5pR":                 false, // a day
		"Jan-Muster_Ort-1949_aB3c":                  false, // what a person writes
		"Muster-Beispiel_1949-03-19":                false,
		"Ward-7b_Bed-12_Chart-881a":                 false,
		"7aB3kQ9xZ2mN5pR8sT1ué":                     false,
		"DE89370400440532013000":                    false, // IBAN Registry, Germany
		"MT84MALT011000012345MTLCAST001S":           false, // and Malta
		"mt84malt011000012345mtlcast001s":           false,
		"da39a3ee5e6b4b0d3255bfef95601890afd80709":  false, // SHA-1 of nothing (FIPS 180, from memory)
		"DA39A3EE5E6B4B0D3255BFEF95601890AFD80709":  false,
		"da39a3ee5e6b4b0d3255bfef95601890afd80709a": true,  // 41
		"da39a3ee5e6b4b0d3255bfef95601890afd8070g":  true,  // no hexadecimal digit
		"SITE12PATIENT000000000123":                 false, // what a person numbers
		"CENTRE7ARM2PATIENT00001234":                false, // five turns
		"CENTRE7ARM2PATIENT00001234x":               true,
		"123456789012345678901234":                  false,
		"averylongwordwithoutanydigits":             false,
		"AVeryLongWordWithoutDigits":                false,
	} {
		assert.Equal(t, want, isToken([]byte(text)), text)
	}
}

// TestTokensLookLikeNothing holds that values which are never fetched would be no finding: the
// rules see nothing in them.
func TestTokensLookLikeNothing(t *testing.T) {
	r := rand.New(rand.NewPCG(62, 22))
	within := []string{"", "", "tel", "MRN", "patient", "20240131", "2024Jan31", "31121999", "4111111111111111", "123456782", "age81", "Smith", "1HGBH41JXMN109186", "SN123", "DE89370400440532013000", "da39a3ee5e6b4b0d", "31Dec2024T", "31dec2024", "ABCDEF80A01B123C", "12feb1931"}
	tokens := 0
	for range 60_000 {
		letters := []string{"0123456789abcdef", "0123456789ABCDEF", "0123456789ABCDEFGHJKMNPQRSTVWXYZ", base62, "0123456789xX", "0123456789abcdefghijklmnopqrstuvwxyz", base64}[r.IntN(7)]
		most := []int{12, 30}[r.IntN(2)]
		text := randomText(r, r.IntN(most), letters) + within[r.IntN(len(within))] + randomText(r, r.IntN(most), letters)
		if r.IntN(4) == 0 {
			text = fmt.Sprintf("%s%02d%s", []string{"DE", "MT", "SI", "fr"}[r.IntN(4)], r.IntN(100), text)
		}
		if isToken([]byte(text)) {
			tokens++
			require.Empty(t, classify(text), text)
		}
	}
	assert.Greater(t, tokens, 20_000)
}

// TestTokensHaveOneShape: what a load holds of a column does not grow with its keys.
func TestTokensHaveOneShape(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 22))
	c := columnOf(times(20_000, func() string { return randomText(r, 22, base62) }))
	assert.Less(t, len(c.Spans), 800, "one in 56 begins like an IBAN")
	tokens := 0
	for _, s := range c.Spans {
		if ofTokens(s.Shape) {
			tokens += int(s.Distinct)
		}
	}
	assert.Greater(t, tokens, 19_000)
	assert.Empty(t, Check("safe_harbor", c))
	for _, shape := range Suspects(c) {
		assert.False(t, ofTokens(shape))
	}
	assert.Empty(t, Suspects(columnOf(times(100, func() string { return "0" + randomText(r, 25, base62) }))))
	assert.Less(t, len(columnOf(times(20_000, func() string { return randomText(r, 22, base64) })).Spans), 3000, "a quarter of those with a hyphen or an underscore have few turns, or no digit")
}
