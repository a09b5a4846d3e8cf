package privacy

import (
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// labelled is one column of the labelled set. Everything in it is invented: names
// are drawn from common ones at random, numbers are made to pass their checks.
type labelled struct {
	ID     string   `json:"id"`
	Half   string   `json:"half"` // tuned, or held_out: written apart and looked at once
	Lang   string   `json:"lang"`
	Header string   `json:"header"`
	Kind   Kind     `json:"kind"` // "" = identifies nobody
	Values []string `json:"values"`
}

const labelledFile = "../../testdata/privacy/labelled.json"

var writeLabelled = flag.Bool("write-labelled", false, "write the labelled set again")

// recipe makes columns: each header with each of the value makers.
type recipe struct {
	half, lang string
	kind       Kind
	headers    string // joined by |
	makers     []maker
}

type maker func(r *rand.Rand) string

// makeLabelled follows every recipe: 14 to 61 rows a column, the last two empty. Some
// columns with an identifier hold it in every twelfth row only (mixed).
func makeLabelled() []labelled {
	var all []labelled
	for i, rc := range slices.Concat(tunedRecipes(), secondRecipes(), heldOutRecipes()) {
		for j, header := range strings.Split(rc.headers, "|") {
			for k, mk := range rc.makers {
				r := rand.New(rand.NewPCG(uint64(i), uint64(j*100+k))) //nolint:gosec // invented test data
				c := labelled{ID: fmt.Sprintf("%s-%03d-%02d-%02d", rc.half, i, j, k), Half: rc.half, Lang: rc.lang, Header: header, Kind: rc.kind}
				for range 12 + r.IntN(48) {
					c.Values = append(c.Values, mk(r))
				}
				c.Values = append(c.Values, "", "")
				all = append(all, c)
			}
		}
	}
	return all
}

func pick(r *rand.Rand, words string) string {
	list := strings.Fields(words)
	return list[r.IntN(len(list))]
}

// oneOf draws from entries joined by |.
func oneOf(entries string) maker {
	list := strings.Split(entries, "|")
	return func(r *rand.Rand) string { return list[r.IntN(len(list))] }
}

// pattern fills 9 with digits, A with capitals, a with small letters and x with
// hexadecimal digits; a backslash keeps the next character.
func pattern(p string) maker {
	return func(r *rand.Rand) string {
		var b strings.Builder
		keep := false
		for _, c := range p {
			switch {
			case keep:
				keep = false
			case c == '\\':
				keep = true
				continue
			case c == '9':
				c = rune('0' + r.IntN(10))
			case c == 'A':
				c = rune('A' + r.IntN(26))
			case c == 'a':
				c = rune('a' + r.IntN(26))
			case c == 'x':
				c = rune("0123456789abcdef"[r.IntN(16)])
			}
			b.WriteRune(c)
		}
		return b.String()
	}
}

// until draws from mk until ok takes the value without its separators.
func until(mk maker, ok func(string) bool) maker {
	return func(r *rand.Rand) string {
		v := ""
		for range 1_000_000 {
			if v = mk(r); ok(strings.ToUpper(separators.Replace(v))) {
				return v
			}
		}
		panic("no value passes, like " + v)
	}
}

func day(format string, from, to int) maker {
	return func(r *rand.Rand) string {
		y, m, d := from+r.IntN(to-from+1), 1+r.IntN(12), 1+r.IntN(28)
		return strings.NewReplacer("YYYY", fmt.Sprint(y), "YY", fmt.Sprintf("%02d", y%100), "MM", fmt.Sprintf("%02d", m), "DD", fmt.Sprintf("%02d", d),
			"M", fmt.Sprint(m), "D", fmt.Sprint(d)).Replace(format)
	}
}

func between(lo, hi int) maker {
	return func(r *rand.Rand) string { return fmt.Sprint(lo + r.IntN(hi-lo+1)) }
}

func tenths(lo, hi int, mark string) maker {
	return func(r *rand.Rand) string {
		return strings.Replace(fmt.Sprintf("%.1f", float64(lo*10+r.IntN((hi-lo)*10))/10), ".", mark, 1)
	}
}

// counter numbers the rows from a start, without gaps.
func counter(format string, start int) maker {
	n := start
	return func(*rand.Rand) string { n++; return fmt.Sprintf(format, n) }
}

// join joins what makers draw.
func join(parts ...any) maker {
	return func(r *rand.Rand) string {
		var b strings.Builder
		for _, p := range parts {
			switch p := p.(type) {
			case string:
				b.WriteString(p)
			case maker:
				b.WriteString(p(r))
			}
		}
		return b.String()
	}
}

func from(words string) maker { return func(r *rand.Rand) string { return pick(r, words) } }

// mixed draws from rare in every twelfth row, else from common: a poisoned column.
func mixed(common, rare maker) maker {
	at := 0
	return func(r *rand.Rand) string {
		at++
		if at%12 == 5 {
			return rare(r)
		}
		return common(r)
	}
}

// TestLabelledSetIsWhatItsRecipesMake holds the stored set against its recipes.
func TestLabelledSetIsWhatItsRecipesMake(t *testing.T) {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	for _, c := range makeLabelled() {
		require.NoError(t, enc.Encode(c))
	}
	if *writeLabelled {
		require.NoError(t, os.MkdirAll(filepath.Dir(labelledFile), 0o755))
		require.NoError(t, os.WriteFile(labelledFile, []byte(b.String()), 0o600))
	}
	stored, err := os.ReadFile(labelledFile)
	require.NoError(t, err)
	require.Equal(t, len(b.String()), len(stored), "run with -args -write-labelled after changing a recipe")
	require.True(t, b.String() == string(stored), "run with -args -write-labelled after changing a recipe")
}
