package privacy

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// FuzzCheck judges a column of any name and values under every basis: no panic, in
// time, and no finding repeats a value of more than a few signs.
func FuzzCheck(f *testing.F) {
	f.Add("Patient name", "Anna Muster|Berta Beispiel|Carl Probe")
	f.Add("Geb.-Datum", "01.02.1950|31.12.1949|1.1.50")
	f.Add("Tel", "+49 30 1234567|030/1234567|")
	f.Add("note", strings.Repeat("a long text about nothing ", 20)+"|K1|K2")
	f.Add("\xff", "\x00|\u202e|\ufffd|999999999999999999999999")
	f.Add("site", "S1|S2|1M8GDM9AXKP042788|a@b.example|10.0.0.1/8|fe80::1")
	f.Fuzz(func(t *testing.T, name, joined string) {
		began := time.Now()
		c := Column{Table: "cases", File: "cases.csv", Name: name}
		shapes := map[string]*Span{}
		seen := map[string]bool{}
		for i, text := range strings.Split(joined, "|") {
			if seen[text] {
				continue
			}
			seen[text] = true
			c.Values = append(c.Values, Value{Text: text, Rows: int64(i%3 + 1)})
			shape := shapeOf(text)
			s := shapes[shape]
			if s == nil {
				s = &Span{Shape: shape, Min: text, Max: text}
				shapes[shape] = s
			}
			s.Distinct, s.Rows, s.Min, s.Max = s.Distinct+1, s.Rows+int64(i%3+1), min(s.Min, text), max(s.Max, text)
		}
		for _, s := range shapes {
			c.Spans = append(c.Spans, *s)
		}
		Suspects(c)
		for _, b := range []Basis{Unstated, "safe_harbor", "limited_data_set", "consented_local"} {
			for _, pseudonym := range []bool{false, true} {
				c.Pseudonym = pseudonym
				for _, found := range Check(b, c) {
					require.NotEmpty(t, found.Found)
					require.NotEmpty(t, found.Remedy)
					require.Positive(t, found.Rows)
					for _, v := range c.Values {
						if len(v.Text) > 6 && shapeOf(v.Text) != v.Text && v.Text != name {
							require.NotContains(t, found.Found+found.Example+found.Remedy, v.Text)
						}
					}
				}
			}
		}
		require.Less(t, time.Since(began), 10*time.Second)
	})
}

// shapeOf is the shape of a value as spans have it.
func shapeOf(s string) string { return string(AppendShape(nil, []byte(s))) }
