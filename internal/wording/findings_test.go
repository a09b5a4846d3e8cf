package wording

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// verb is where a text of the code takes an argument.
var verb = regexp.MustCompile(`%[.\d]*[dsgfv]`)

// spokenBy are the texts of the code that makes findings, in its order and joined, with
// the places of arguments cut out of them: a text may be written in pieces.
func spokenBy(t *testing.T) (joined string, single []string) {
	t.Helper()
	var b strings.Builder
	for _, dir := range []string{"review", "stats"} {
		files, err := filepath.Glob(filepath.Join("..", dir, "*.go"))
		require.NoError(t, err)
		for _, path := range files {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
			require.NoError(t, err)
			ast.Inspect(file, func(n ast.Node) bool {
				if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
					s, err := strconv.Unquote(lit.Value)
					require.NoError(t, err)
					b.WriteString(verb.ReplaceAllString(s, "§"))
					if dir == "review" {
						single = append(single, s)
					}
				}
				return true
			})
		}
	}
	sql, err := os.ReadFile("../../queries/open_cases.sql")
	require.NoError(t, err)
	b.Write(sql)
	return b.String(), single
}

// Findings travel in English, and a page knows them again by the catalogue: so each
// message of that group is one that some code still says.
func TestFindingsSayWhatTheCatalogueKnows(t *testing.T) {
	joined, _ := spokenBy(t)
	c, n := English(), 0
	for _, key := range c.Keys() {
		if !strings.HasPrefix(key, "finding.") {
			continue
		}
		n++
		for _, part := range c.messages[key] {
			require.Nil(t, part.forms, "%s: a text that is known by its words has no forms of its own", key)
			if words := strings.TrimSpace(part.text); len(words) > 3 && part.arg == "" {
				assert.True(t, strings.Contains(joined, words) || key == "finding.method.few_patients_any", "nothing says %q any more (%s)", words, key)
			}
		}
	}
	assert.Greater(t, n, 80)
}

// TestEverySentenceOfAReviewIsKnown fails where code that makes findings says a sentence
// that no page could say in another language.
func TestEverySentenceOfAReviewIsKnown(t *testing.T) {
	_, single := spokenBy(t)
	c, err := English().Rewritten("de", strings.ToUpper)
	require.NoError(t, err)
	sentence := regexp.MustCompile(`^[A-Z%][^=<>]*[a-z] [^=<>]*\.$`)
	seen := 0
	for _, s := range single {
		if !sentence.MatchString(s) || strings.HasPrefix(s, "A figure has moved") || strings.HasPrefix(s, "The later review") { // said together
			continue
		}
		seen++
		_, known := c.Found(verb.ReplaceAllString(s, "7"), "finding.")
		assert.True(t, known, "the catalogue has no finding that reads %q", s)
	}
	assert.Greater(t, seen, 30)
}

func TestFindingsAreFoundAgain(t *testing.T) {
	c, err := Read("de", []byte(`
finding.few.of = "{all}, davon {n}; {least} wären nötig"
finding.fact.visits = "{arch}: {n, plural, one {ein Besuch} other {# Besuche}}"
finding.unit.per_100 = "je 100"
finding.method.few_patients = "{method} (nur {n})"
finding.method.cumulative = "mittlere Summe"
finding.note.placebo = "{period}: {ratio}"
code.upper = "oben"
date.month = "{month}.{year}"`), English())
	require.NoError(t, err)
	for text, want := range map[string]string{
		"Too few to tell: 12 of 1,234, 30 or more are needed.": "1.234, davon 12; 30 wären nötig",
		"upper: 5 adjustment visits":                           "oben: 5 Besuche",
		"per 100 dentures":                                     "je 100",
		"mean cumulative function, limits robust for patients with several dentures; only 12 patients, variance enlarged by n/(n-1)":      "mittlere Summe (nur 12)",
		"At 2023-04, when nothing was changed, the same sum shows a step too (1.25, 1.10 to 1.40): the sites were drifting apart before.": "04.2023: 1,25",
	} {
		got, ok := c.Found(text, "finding.", "code.")
		assert.True(t, ok, text)
		assert.Equal(t, want, got)
	}
	_, ok := c.Found("something else", "finding.")
	assert.False(t, ok)
	same, ok := English().Found("anything")
	assert.True(t, ok)
	assert.Equal(t, "anything", same)
}
