package mapping

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const goodVisits = `[visits.columns]
visit_id = { join = ["Nr", "Tag"] }
case_id = { column = "Nr" }
day = { column = "Tag", day0 = "records" }
adjusted = { value = "yes" }
`

func TestSmallIsAMapping(t *testing.T) {
	m, err := Parse("small.toml", []byte(small+goodVisits))
	require.NoError(t, err)
	assert.Len(t, m.Tables(), 8)
	_, err = Parse("small.toml", []byte("\ufeff"+strings.ReplaceAll(small+goodVisits, "\n", "\r\n")))
	require.NoError(t, err, "a byte order mark and Windows line ends do no harm")
}

// Every mistake: what changes in a sound mapping, what stands under the marker, and
// the sentence.
var mistakes = []struct{ name, old, new, marked, want string }{
	{"unknown key", `"Nr", "Tag"]`, `"Nr", "Tag"], wth = "-"`, "wth", `found the unknown key "wth": did you mean "with"?`},
	{"unknown table", "[[visits]]", "[[visit]]", "visit", `found the unknown key "visit": did you mean "visits"?`},
	{"wrong type", `decimal = ","`, `decimal = 5`, "5", `what a mapping cannot hold here`},
	{"no TOML", `decimal = ","`, `decimal = `, "", `what a mapping cannot hold here`},
	{"list for a word", `{ column = "Tag", day0 = "records" }`, `{ column = ["Tag"], day0 = "records" }`, "[", `what a mapping cannot hold here`},
	{"key twice", `adjusted = { value = "yes" }`, "adjusted = { value = \"yes\" }\nadjusted = { value = \"no\" }", "a", `what a mapping cannot hold here`},
	{"unknown column", `adjusted =`, `ajusted =`, "ajusted", `found the column "ajusted", which visits does not have: did you mean "adjusted"?`},
	{"required column missing", "adjusted = { value = \"yes\" }\n", "", "visits", `found no column adjusted: visits cannot do without it`},
	{"blank left", `value = "yes"`, `value = ""`, "value", `found a blank for adjusted: fill it in`},
	{"no source", `{ value = "yes" }`, `{ default = "yes" }`, "adjusted", `found no single source: give one of column`},
	{"two sources", `{ value = "yes" }`, `{ value = "yes", column = "Adj" }`, "adjusted", `found no single source`},
	{"constant without a code", `value = "yes"`, `value = "sometimes"`, "value", `found the code "sometimes", which adjusted does not have: use "yes", "no"`},
	{"unknown source", `from = "visits"`, `from = "visit"`, "from", `found the source "visit", which is not there: did you mean "visits"?`},
	{"form of a date", `date = "dd.mm.yyyy"`, `date = "tt.mm.jjjj"`, "date", `found "tt.mm.jjjj", which is no form of a date (it has no year)`},
	{"basis", `basis = "limited_data_set"`, `basis = "private"`, "basis", `found "private": use "safe_harbor"`},
	{"keep missing", `, keep = "month"`, ``, "records_on", `found a date of which it is not said how much stays: add keep = "month"`},
	{"unit missing", `day0 = "records" }` + "\nadjusted", `default = "0" }` + "\nadjusted", "day", `found no unit for day: add unit = "days" or "weeks", or date`},
	{"unit of another kind", `{ column = "Tag", day0 = "records" }`, `{ column = "Tag", unit = "mm" }`, "unit", `found "mm": use "days", "weeks"`},
	{"date and number", `day0 = "records" }` + "\nadjusted", `day0 = "records", unit = "days" }` + "\nadjusted", "day", `found a date and a number at once`},
	{"key that says nothing", `{ value = "yes" }`, `{ column = "Adj", unit = "mm" }`, "unit", `found the key unit, which says nothing about adjusted (code)`},
	{"turn without each", `column = "Tag", day0`, `column = "Tag {n}", day0`, "day", `found {n} without each`},
	{"join of no key", `{ value = "yes" }`, `{ join = ["a", "b"] }`, "join", `found a join for adjusted (code)`},
	{"list of codes missing", `{ value = "yes" }`, `{ column = "Adj", codes = "janein" }`, "codes", `found the list of codes "janein", which is not there`},
	{"table both absent and filled", `"remakes"]`, `"remakes", "visits"]`, `"visits"`, `found the table "visits", which is filled further down`},
	{"table forgotten", `, "remakes"]`, `]`, "", `found no [[remakes]]: say where its rows come from`},
	{"filter not whole", `[visits.columns]`, "where = [{ column = \"Kind\" }]\n[visits.columns]", "{", `found a filter that is not whole`},
	{"header line", `file = "visits.csv"`, "file = \"visits.csv\"\nheader = -1", "header", `found -1: give the line of the header`},
	{"encoding", `file = "visits.csv"`, "file = \"visits.csv\"\nencoding = \"ansi\"", "encoding", `found "ansi": use `},
	{"source without a file", `file = "visits.csv"`, `many = true`, "visits", `found a source without file or sheet`},
}

func TestEveryMistakeHasLineMarkerAndRemedy(t *testing.T) {
	for _, c := range mistakes {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, small+goodVisits, c.old)
			text := strings.Replace(small+goodVisits, c.old, c.new, 1)
			_, err := Parse("small.toml", []byte(text))
			var found Mistakes
			require.ErrorAs(t, err, &found)
			assert.Contains(t, err.Error(), c.want)
			if c.marked == "" {
				return
			}
			var m Mistake
			for _, one := range found {
				if strings.Contains(one.String(), c.want) {
					m = one
				}
			}
			require.NotZero(t, m.Line)
			assert.Equal(t, strings.Split(text, "\n")[m.Line-1], m.Text)
			assert.True(t, strings.HasPrefix(string([]rune(m.Text)[m.From-1:]), c.marked), "marked is %q", string([]rune(m.Text)[m.From-1:]))
			lines := strings.Split(m.String(), "\n")
			require.Len(t, lines, 3)
			assert.Equal(t, strings.Index(lines[2], "^")-2, strings.Index(lines[1], "| ")+m.From-1, "the marker stands under the mistake")
		})
	}
}

func TestMarkerCountsLettersNotBytes(t *testing.T) {
	_, err := Parse("x.toml", []byte(strings.Replace(small+goodVisits, `{ column = "Tag", day0`, `{ column = "Größe", wrong = 1, day0`, 1)))
	var found Mistakes
	require.ErrorAs(t, err, &found)
	assert.Equal(t, "wrong", string([]rune(found[0].Text)[found[0].From-1:][:found[0].Width]))
}

func TestAllMistakesAreTold(t *testing.T) {
	text := strings.Replace(small+goodVisits, `adjusted = { value = "yes" }`, "adjusted = { value = \"ja\" }\nminutes = { column = \"Min\" }\nnothing = { column = \"x\" }", 1)
	_, err := Parse("x.toml", []byte(text))
	var found Mistakes
	require.ErrorAs(t, err, &found)
	assert.Len(t, found, 3, fmt.Sprint(err))
	assert.Less(t, found[0].Line, found[1].Line)
}

func TestHelpIsAMapping(t *testing.T) {
	_, text, _ := strings.Cut(Help, "\n\n")
	text, _, _ = strings.Cut(text, "\n\nUnits:")
	text = strings.Replace(text, `absent = ["readings"]`, `absent = ["readings", "records", "trays", "sore_spots", "remakes"]`, 1)
	text += `
  [[dentures]]
  from = "patients"
  [dentures.columns]
  case_id = { column = "Case no" }
  arch = { column = "Jaw" }
  [codes.complaints]
  Pain = "sore"
`
	_, err := Parse("help.toml", []byte(text))
	require.NoError(t, err)
}
