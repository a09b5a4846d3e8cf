package wording

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func read(t *testing.T, code, text string, source *Catalogue) *Catalogue {
	t.Helper()
	c, err := Read(code, []byte(text), source)
	require.NoError(t, err)
	return c
}

const few = `
plain = "as it is"
braces = "'{'not an argument'}'"
[case]
lead = "{cases, plural, =0 {no case} one {# case} other {# cases}} of {who}, {way, select, up {more} other {fewer}}"
`

func TestMessagesTakeTheirArguments(t *testing.T) {
	c := read(t, "en", few, nil)
	assert.Equal(t, "as it is", c.Say("plain"))
	assert.Equal(t, "{not an argument}", c.Say("braces"))
	for n, want := range map[int]string{0: "no case of A, more", 1: "1 case of A, more", 1234: "1,234 cases of A, more"} {
		assert.Equal(t, want, c.Say("case.lead", "way", "up", "who", "A", "cases", n))
	}
	assert.Equal(t, "2 cases of {who}, fewer", c.Say("case.lead", "cases", int64(2), "who", "{who}", "way", "sideways"), "an argument is never read as a message")
	assert.Equal(t, []string{"cases", "way", "who"}, c.Arguments("case.lead"))
	assert.Equal(t, "⟨case.none⟩", c.Say("case.none"))
	assert.Contains(t, c.Say("case.lead", "cases", 1), "⟨who⟩")
	_, ok := c.Named("case.*", "none")
	assert.False(t, ok)
}

// Polish counts in four forms (CLDR, cardinal rules); its words are for the rules alone.
func TestFormsFollowTheLanguage(t *testing.T) {
	c := read(t, "pl", `n = "{n, plural, one {# plik} few {# pliki} many {# plików} other {# pliku}}"`, nil)
	for n, want := range map[int]string{1: "1 plik", 2: "2 pliki", 5: "5 plików", 12: "12 plików", 22: "22 pliki", 112: "112 plików"} {
		assert.Equal(t, want, c.Say("n", "n", n))
	}
}

// A language that lacks a message takes it from the source, with the source's forms.
func TestWhatIsMissingFallsBack(t *testing.T) {
	source := read(t, "en", few, nil)
	c := read(t, "de", `plain = "wie es ist"`, source)
	assert.Equal(t, "wie es ist", c.Say("plain"))
	assert.Equal(t, "1 case of A, more", c.Say("case.lead", "way", "up", "who", "A", "cases", 1))
	assert.Equal(t, []string{"braces", "case.lead"}, c.Missing())
	assert.Empty(t, source.Missing())
}

func TestMistakesAreNamed(t *testing.T) {
	source := read(t, "en", few, nil)
	for text, want := range map[string]string{
		`plain = "an {open"`:                        "plain",
		`plain = "a } too many"`:                    "character 3",
		`plain = "{n, plural, one {#}}"`:            "no form “other”",
		`plain = "{n, plural, some {#} other {}}"`:  "zero, one, two, few, many and other",
		`plain = "{n, plural, =x {#} other {}}"`:    "=0",
		`plain = "{n, select, a {} a {} other {}}"`: "stands twice",
		`plain = "{n, choice, a {}}"`:               "{n, plural, …}",
		`plain = "{ }"`:                             "write {name}",
		`plain = 3`:                                 "between quotation marks",
		`plain = "{much}"`:                          "no argument is called {much}",
		`case = {leed = "x"}`:                       "en has no message of that key",
		`plain = "a`:                                "words of de",
	} {
		_, err := Read("de", []byte(text), source)
		require.ErrorContains(t, err, want, text)
	}
	_, err := Read("no such language", nil, nil)
	require.ErrorContains(t, err, "BCP 47")
	_, err = In("xx")
	require.EqualError(t, err, `there are no words for the language "xx": give en`)
}

// The marks are those of CLDR; rounding is ours and the same everywhere.
func TestNumbersAreWrittenAsTheLanguageDoes(t *testing.T) {
	for code, want := range map[string][4]string{
		"en": {"1,234,567.5", "−0.13", "12.5%", "0.125"},
		"de": {"1.234.567,5", "−0,13", "12,5\u00a0%", "0,125"},
		"fr": {"1\u00a0234\u00a0567,5", "−0,13", "12,5\u00a0%", "0,125"},
		"hi": {"12,34,567.5", "−0.13", "12.5%", "0.125"},
		"ar": {"1,234,567.5", "−0.13", "12.5", "0.125"},
	} {
		c := read(t, code, "", nil)
		assert.Equal(t, want[0], c.Number(1234567.5, 1), code)
		assert.Equal(t, want[1], c.Number(-0.126, 2), code)
		assert.Contains(t, c.Percent(c.Number(12.5, 1)), want[2], code)
		assert.Equal(t, want[3], c.Tick(0.1251), code)
		assert.Equal(t, "0", c.Number(-0.4, 0), code)
	}
	c := English()
	assert.Equal(t, []string{"999", "1,000", "2.67", None}, []string{c.Count(999), c.Count(1000), c.Number(2.675, 2), c.Number(1/c0(), 0)})
}

func c0() float64 { return 0 }

func TestPeriodsAreWrittenAsTheLanguageDoes(t *testing.T) {
	de := read(t, "de", "[date]\nday = \"{day}.{month}.{year}\"\nmonth = \"{month}/{year}\"\nquarter = \"{quarter}. Quartal {year}\"", English())
	for iso, want := range map[string][2]string{
		"2026-07-14": {"2026-07-14", "14.07.2026"}, "2026-07": {"2026-07", "07/2026"}, "2026-Q3": {"2026-Q3", "3. Quartal 2026"},
		"2026": {"2026", "2026"}, "H2": {"H2", "H2"}, "2026-Q9": {"2026-Q9", "2026-Q9"}, "": {"", ""},
	} {
		assert.Equal(t, want[0], English().Period(iso))
		assert.Equal(t, want[1], de.Period(iso))
	}
}

// Each language that there is can be read; what it lacks is told, and stands in English.
func TestEveryLanguageCanBeRead(t *testing.T) {
	require.Contains(t, Languages(), Source)
	for _, code := range Languages() {
		c, err := In(code)
		require.NoError(t, err)
		if missing := c.Missing(); len(missing) > 0 {
			t.Logf("%s lacks %d of %d messages: %v", code, len(missing), len(English().Keys()), missing)
		}
	}
}

func BenchmarkSay(b *testing.B) {
	c, err := Read("en", []byte(few), nil)
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		c.Say("case.lead", "cases", 3, "who", "H1", "way", "up")
	}
}
