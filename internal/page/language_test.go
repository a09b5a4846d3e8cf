package page

import (
	"bytes"
	"encoding/json"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"afterfit/internal/wording"
)

// widened writes Latin letters and digits in their wide form, so that text of the catalogue
// cannot be taken for text of the program or of the data.
func widened(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r - 'A' + 'Ａ'
		}
		return r
	}, s)
}

// foreign is a language made for tests: every word of the catalogue in wide letters,
// numbers as in German, and periods the other way round.
func foreign(t *testing.T) Options {
	t.Helper()
	c, err := wording.English().Rewritten("de", func(s string) string { return strings.ReplaceAll(widened(s), "-", "/") })
	require.NoError(t, err)
	return Options{Words: c}
}

// spoken is a page in another language and what it is made from.
type spoken struct {
	from  any
	write func(io.Writer) error
}

func spokenPages(opt Options) map[string]spoken {
	static := opt
	static.Static = true
	f, s, a, b, tiny, shared := story(), storySummary(), storyAudit(), bareAudit(), tinyStory(), storyShared()
	list := []IndexEntry{{"C05", SummaryFile("C05", "00"), 288, 520}}
	return map[string]spoken{
		"pack":     {f, func(w io.Writer) error { return Pack(w, f, opt) }},
		"static":   {f, func(w io.Writer) error { return Pack(w, f, static) }},
		"tiny":     {tiny, func(w io.Writer) error { return Pack(w, tiny, opt) }},
		"hand-out": {f, func(w io.Writer) error { return HandOut(w, f, opt) }},
		"shared":   {shared, func(w io.Writer) error { return Shared(w, shared, opt) }},
		"summary":  {s, func(w io.Writer) error { return Summary(w, s, opt) }},
		"audit":    {a, func(w io.Writer) error { return Audit(w, a, false, opt) }},
		"teach":    {a, func(w io.Writer) error { return Audit(w, a, true, opt) }},
		"bare":     {b, func(w io.Writer) error { return Audit(w, b, false, opt) }},
		"index":    {list, func(w io.Writer) error { return SummaryIndex(w, list, About{Version: "0.1.0", Invented: true}, opt) }},
	}
}

// textsOf are the texts that a reader sees or hears: text nodes, the attributes that are
// read out, and every string of a chart's options that is not a name of the library's.
func textsOf(t *testing.T, page string) []string {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	require.NoError(t, err)
	var out []string
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && (n.Data == "style" || n.Data == "pre" || n.Data == "script") {
			if n.Data == "script" && attribute(n, "type") == "application/json" && attribute(n, "id") != "words-data" {
				var options any
				require.NoError(t, json.Unmarshal([]byte(n.FirstChild.Data), &options))
				out = append(out, shownIn(options, "")...)
			}
			return
		}
		if n.Type == html.TextNode {
			out = append(out, n.Data)
		}
		for _, name := range []string{"aria-label", "alt", "title"} {
			out = append(out, attribute(n, name))
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(root)
	return out
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// drawn are the names of kinds of mark, and of series that the script draws by name.
var drawn = []string{"own", "rest", "beyond", "rows", "rule", "band", "tags"}

// shownIn are the strings of a chart that it shows.
func shownIn(v any, key string) []string {
	var out []string
	switch x := v.(type) {
	case string:
		if slices.Contains([]string{"name", "description", "value", "data"}, key) && !slices.Contains(drawn, x) {
			out = append(out, x)
		}
	case []any:
		for _, e := range x {
			out = append(out, shownIn(e, key)...)
		}
	case map[string]any:
		for k, e := range x {
			out = append(out, shownIn(e, k)...)
		}
	}
	return out
}

var word = regexp.MustCompile(`[A-Za-z]{2,}`)

// A page in another language says nothing that is not in the catalogue, but for data.
func TestNoWordStandsOutsideTheCatalogue(t *testing.T) {
	opt := foreign(t)
	for name, p := range spokenPages(opt) {
		var b bytes.Buffer
		require.NoError(t, p.write(&b), name)
		assert.Contains(t, b.String(), `<html lang="de">`)
		speaksOnly(t, name, b.String(), dataOf(t, p.from, opt.words(), append(codes, sentences...)))
		countsOnly(t, name, b.String(), dataOf(t, p.from, opt.words(), sentences))
	}
}

// countsOnly fails on a number, a month or a quarter that is not written as the page's
// language does.
func countsOnly(t *testing.T, name, page string, data []string) {
	t.Helper()
	for _, text := range textsOf(t, page) {
		for _, d := range data {
			text = strings.ReplaceAll(text, d, " ")
		}
		assert.NotRegexp(t, englishNumber, number.ReplaceAllString(text, " "), name)
	}
}

// englishNumber is a number or a date with an English mark in it; number is a German one,
// and a version of the program.
var (
	englishNumber = regexp.MustCompile(`\d,\d{3}\b|\d\.\d|\b\d{4}-(\d{2}|Q[1-4])\b`)
	number        = regexp.MustCompile(`\b\d{1,3}(\.\d{3})+(,\d+)?\b|\b\d+,\d+\b|\b\d\.\d\.\d\b`)
)

// speaksOnly fails on every word of a page that is neither of the catalogue nor data.
func speaksOnly(t *testing.T, name, page string, data []string) {
	t.Helper()
	var pairs []string
	for _, d := range data {
		pairs = append(pairs, d, " ", sentenceCase(d), " ")
	}
	without := strings.NewReplacer(pairs...)
	texts := slices.DeleteFunc(textsOf(t, page), func(text string) bool { return !word.MatchString(text) })
	slices.Sort(texts)
	for _, text := range slices.Compact(texts) {
		other := always.ReplaceAllString(without.Replace(text), " ") // either may hold a part of the other
		for _, found := range word.FindAllString(without.Replace(always.ReplaceAllString(text, " ")), -1) {
			if slices.Contains(word.FindAllString(other, -1), found) {
				assert.Fail(t, "a word outside the catalogue", "%s: %q in %q", name, found, text)
			}
		}
	}
}

// always may stand in any page: names of columns, statements, questions, tables, files
// and of the program, fingerprints, and a rule as the command takes it.
var always = regexp.MustCompile(`\b[a-z]+(_[a-z0-9]+)+\b|^(cases|dentures|records|readings|trays|visits|remakes)\s*$|^afterfit |summary-[0-9a-f]+\.html|\b[0-9a-f]{12,}\b|“(worst|best|random|habit|zone|unexplained-remake|lesion)”`)

// codes are the fields of findings that hold the practice's own codes and names, and names
// of columns. sentences hold what the review says: the canned findings are no review's.
var (
	codes     = []string{"code", "clinician", "site", "case_id", "table", "column", "name", "where", "what", "first", "last", "query", "id", "adjusted", "Code"}
	sentences = []string{"method", "too_few", "warnings", "notes", "facts", "rule", "why", "as_read", "usual", "source", "look_at", "sees"}
)

// dataOf are the texts of findings in the fields named that the catalogue does not know,
// the longest first.
func dataOf(t *testing.T, findings any, w words, fields []string) []string {
	t.Helper()
	raw, err := json.Marshal(findings)
	require.NoError(t, err)
	var tree any
	require.NoError(t, json.Unmarshal(raw, &tree))
	var out []string
	var walk func(v any, key string)
	walk = func(v any, key string) {
		switch x := v.(type) {
		case string:
			if _, ours := w.Found(x, travelling...); slices.Contains(fields, key) && !ours && len(x) > 1 {
				out = append(out, strings.TrimSuffix(x, "."), spaced(x))
			}
		case []any:
			for _, e := range x {
				walk(e, key)
			}
		case map[string]any:
			for k, e := range x {
				walk(e, k)
			}
		}
	}
	walk(tree, "")
	slices.SortFunc(out, func(a, b string) int { return len(b) - len(a) })
	return slices.Compact(out)
}

// What the script and the stylesheet say goes with the page, in its language.
func TestScriptAndStyleSpeakThePagesLanguage(t *testing.T) {
	w := foreign(t).words()
	raw, err := json.Marshal(w.script())
	require.NoError(t, err)
	var said map[string]string
	require.NoError(t, json.Unmarshal(raw, &said))
	for name, text := range said {
		text = strings.NewReplacer("{n}", "", "{day}", "", "{year}", "", "{number}", "", "{caption}", "").Replace(text)
		assert.NotRegexp(t, word, map[bool]string{false: text}[name == "language"], name)
	}
	assert.Equal(t, []string{"de", ",", ".", "{n}\u00a0%"}, []string{said["language"], said["decimal"], said["thousands"], said["percent"]})
	assert.Contains(t, w.style(), `" `+widened("of")+` "`)
	assert.NotContains(t, w.style(), "%style.")
	assert.NotContains(t, english.style(), "%style.")
}
