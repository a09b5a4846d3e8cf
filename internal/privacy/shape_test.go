package privacy

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// columnOf is a column of these values, a row each.
func columnOf(values []string) Column {
	c := Column{Table: "cases", File: "cases.csv", Name: "case_id", InContract: true}
	at := map[string]int{}
	for _, v := range values {
		shape := shapeOf(v)
		i, ok := at[shape]
		if !ok {
			i = len(c.Spans)
			at[shape] = i
			c.Spans = append(c.Spans, Span{Shape: shape, Min: v, Max: v})
		}
		s := &c.Spans[i]
		s.Distinct, s.Rows, s.Min, s.Max = s.Distinct+1, s.Rows+1, min(s.Min, v), max(s.Max, v)
		c.Values = append(c.Values, Value{v, 1})
	}
	return c
}

// TestUUIDsByVersion holds the shapes to the examples of RFC 9562, appendices A and B
// (from memory).
func TestUUIDsByVersion(t *testing.T) {
	for text, want := range map[string]string{
		"C232AB00-9414-11EC-B3C8-9F6BDECED846": drawnUUID, // version 1
		"5df41881-3aed-3515-88a7-2f4a814cf09e": madeUUID,  // 3, of a name by MD5
		"919108f7-52d1-4320-9bac-f847db4148a8": drawnUUID, // 4
		"2ed6657d-e927-568b-95e1-2665a8aea6a2": madeUUID,  // 5, of a name by SHA-1
		"1EC9414C-232A-6B00-B3C8-9F6BDECED846": drawnUUID, // 6
		"017F22E2-79B0-7CC3-98C4-DC0C0C07398F": drawnUUID, // 7
		"2489E9AD-2EE2-8E00-8EC9-32D5F69181C0": madeUUID,  // 8, as its maker likes
		"919108f7-52d1-4320-1bac-f847db4148a8": madeUUID,  // 4 of another variant
		"919108f7-52d1-4320-9bac-f847db4148a":  "",
		"919108f7052d1-4320-9bac-f847db4148a8": "",
		"919108g7-52d1-4320-9bac-f847db4148a8": "",
	} {
		assert.Equal(t, want, uuidShape(text), text)
	}
}

// TestRandomKeysAreNobodysNumbers puts columns of random keys to the checks: keys long
// enough hold what looks like an account or a card now and then.
func TestRandomKeysAreNobodysNumbers(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 3))
	const card = "4111111111111111"    // an example number that card issuers give out for tests
	const pension = "15070649c103"     // Deutsche Rentenversicherung, sample card
	const ahv = "7569217076985"        // Bundesamt für Sozialversicherungen, sample
	const taxCode = "abcdef80a01b123c" // of the form of one
	const hex, digits, plain = "0123456789abcdef", "0123456789", "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	uuid := func(version string) string {
		return fmt.Sprintf("%s-%s-%s%s-a%s-%s", randomText(r, 8, hex), randomText(r, 4, hex), version, randomText(r, 3, hex), randomText(r, 3, hex), randomText(r, 12, hex))
	}
	column := func(n int, one func() string) Column { return columnOf(times(n, one)) }
	for name, c := range map[string]Column{
		"random UUIDs":       column(20_000, func() string { return uuid("4") }),
		"sixteen digits":     column(20_000, func() string { return randomText(r, 16, digits) }),
		"hexadecimal":        columnOf(append(times(5_000, func() string { return randomText(r, 16, hex) }), card)),
		"a tax code":         columnOf(append(times(16_000, func() string { return randomText(r, 16, hex) }), taxCode)),
		"nine, hexadecimal":  column(20_000, func() string { return strings.NewReplacer("dec", "dac", "feb", "fab").Replace(randomText(r, 9, hex)) }),
		"twelve":             columnOf(append(times(8_000, func() string { return randomText(r, 12, hex) }), pension)),
		"seventeen":          column(20_000, func() string { return randomText(r, 17, hex) }),
		"seventeen, base 36": column(5_000, func() string { return randomText(r, 17, plain) }),
		"seventeen, base 32": column(5_000, func() string { return randomText(r, 17, "0123456789ABCDEFGHJKMNPQRSTVWXYZ") }),
		"seventeen, base 62": column(5_000, func() string { return randomText(r, 17, base62) }),
		"base 64":            column(5_000, func() string { return randomText(r, 21, base64) }),
		"eleven digits":      column(20_000, func() string { return randomText(r, 11, digits) }),
		"thirteen digits":    columnOf(append(times(1_000, func() string { return randomText(r, 13, digits) }), ahv)),
		"eighteen digits":    column(20_000, func() string { return randomText(r, 18, digits) }),
		"base 36":            column(20_000, func() string { return randomText(r, 22, plain) }),
	} {
		assert.Empty(t, Check("safe_harbor", c), name)
	}
	for range 100 {
		assert.Empty(t, Check("safe_harbor", column(100, func() string { return randomText(r, 16, digits) })), "a hundred keys of sixteen digits")
		assert.Empty(t, Check("safe_harbor", column(20, func() string { return randomText(r, 18, digits) })), "twenty of eighteen")
		for _, f := range Check("safe_harbor", column(20, func() string { return randomText(r, 17, plain) })) {
			assert.NotEqual(t, Vehicle, f.Kind, "twenty of seventeen")
		}
	}
	assert.Empty(t, Suspects(column(20, func() string { return uuid("7") })), "values of random UUIDs need not be fetched")
	made := Check("safe_harbor", column(20, func() string { return uuid("5") }))
	require.Len(t, made, 1)
	assert.Equal(t, Hash, made[0].Kind, "made of a name")
	assert.True(t, made[0].Stops)
}

// TestOneAccountAmongFewIsFound: what is sure stays sure where it is not one of many
// candidates, among random keys that are none of its kind, and where more pass than by
// chance.
func TestOneAccountAmongFewIsFound(t *testing.T) {
	const iban = "DE89370400440532013000" // IBAN Registry, Germany
	var words []string
	for i := range 200 {
		words = append(words, fmt.Sprintf("note %d", i))
	}
	assert.NotEmpty(t, accounts(Check("safe_harbor", columnOf(append(words, iban)))))
	assert.NotEmpty(t, accounts(Check("safe_harbor", columnOf([]string{"note", iban}))))
	assert.NotEmpty(t, Check("safe_harbor", columnOf(append(words, "ABCDEF80A01B123C"))), "of the form of a tax code")
	const card = "4111111111111111" // an example number that card issuers give out for tests
	assert.NotEmpty(t, accounts(Check("safe_harbor", columnOf([]string{card, "a111111111111111", "b111111111111111"}))), "few keys prove nothing")
	r := rand.New(rand.NewPCG(5, 5))
	// Of a length that its country does not have, and of a country without IBANs.
	for _, form := range []string{"DE9999999999999999999", "XX99999999999999999999"} {
		none := until(pattern(form), validIBAN)(r)
		assert.Empty(t, accounts(Check("safe_harbor", columnOf([]string{"note", none}))), none)
	}
	const vin = "1M8GDM9AXKP042788" // widely printed example of 49 CFR 565
	assert.NotEmpty(t, Check("safe_harbor", columnOf(append(words, vin))))
	assert.NotEmpty(t, Check("safe_harbor", columnOf([]string{"note", vin})))
	vins := func(form string, valid func(string) bool) []string {
		return times(60, func() string { return until(pattern(form), valid)(r) })
	}
	assert.NotEmpty(t, Check("safe_harbor", columnOf(vins("1M8GA9A9AAA999999", validVIN))))
	assert.NotEmpty(t, Check("safe_harbor", columnOf(vins("VF1AAA9A999999999", func(s string) bool { return !strings.ContainsAny(s, "IOQ") }))), "without check digits")
	long := func(r *rand.Rand) string { return fmt.Sprintf("DE%02d%018d", 10+r.IntN(90), r.Int64N(1e18)) }
	hexToken := func() string {
		return until(func(r *rand.Rand) string { return randomText(r, 16, "0123456789abcdef") }, func(s string) bool { return isToken([]byte(s)) })(r)
	}
	assert.NotEmpty(t, Check("safe_harbor", columnOf(append(times(9_000, hexToken), "abcdef80a01b123c"))), "too few tokens to tell")
	assert.Empty(t, Check("safe_harbor", columnOf(append(times(11_000, hexToken), "abcdef80a01b123c"))))
	assert.Empty(t, Check("safe_harbor", columnOf(append(times(100, hexToken), card))), "a key without letters")
	for _, number := range []string{"15070649c103", "7569217076985", "11010519491231002x", "AB123456C"} { // sample numbers of their issuers, and the form of one
		assert.NotEmpty(t, Check("safe_harbor", columnOf(append(words, number, "AB123457C", "AB123458C", "AB123459C", "AB123451C", "AB123452C", "AB123453C"))), number)
	}
	many := times(400, func() string { return long(r) })
	assert.Empty(t, accounts(Check("safe_harbor", columnOf(many))), "as many pass as by chance")
	valid := times(40, func() string { return until(long, validIBAN)(r) })
	assert.NotEmpty(t, accounts(Check("safe_harbor", columnOf(append(many[:100:100], valid...)))), "more than by chance")
}

// TestWhatIsSurprising: the chances of the rules are known well enough to tell twice as many
// from by chance, not a third more of a million.
func TestWhatIsSurprising(t *testing.T) {
	assert.False(t, surprising(2_700, 1_000_000, 0.002))
	assert.True(t, surprising(4_100, 1_000_000, 0.002))
	assert.False(t, surprising(2, 1_000, 0.001))
	assert.True(t, surprising(10, 10, 0.1))
}

func times(n int, one func() string) (list []string) {
	for range n {
		list = append(list, one())
	}
	return list
}

func accounts(all []Finding) (some []Finding) {
	for _, f := range all {
		if f.Kind == Account {
			some = append(some, f)
		}
	}
	return some
}
