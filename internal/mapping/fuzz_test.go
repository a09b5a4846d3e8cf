package mapping

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

// FuzzParse: any text is a mapping or is refused with mistakes that can be shown, each
// with a remedy and on a line that is there.
func FuzzParse(f *testing.F) {
	f.Add([]byte(small))
	samples, err := filepath.Glob("../../testdata/mappings/*.toml")
	require.NoError(f, err)
	require.NotEmpty(f, samples)
	for _, path := range samples {
		text, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(text)
	}
	for _, s := range []string{"", "\ufeff[export]\n", "[export]\ndecimal = 1\n", "a.b.c = {d = [1, {e = 2}]}\n", "[[visits]]\nfrom = \"x\"\neach = [\"1..999999999\"]\n", "[sources.\"\"]\nfile = \"[\"\n", "x = \"\"\"\n", "[codes.a]\n\"*\" = \"*\"\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		began := time.Now()
		m, err := Parse("m.toml", text)
		if err == nil {
			require.Equal(t, "m.toml", m.File())
			return
		}
		var found Mistakes
		require.True(t, errors.As(err, &found), "no mistakes: %v", err)
		require.NotEmpty(t, found)
		lines := strings.Count(string(text), "\n") + 1
		for _, x := range found {
			require.NotEmpty(t, x.Found)
			require.NotEmpty(t, x.Remedy)
			require.LessOrEqual(t, x.Line, lines)
		}
		require.LessOrEqual(t, len(found.Error()), 1<<20+2000*(len(text)+1))
		require.Less(t, time.Since(began), 10*time.Second)
	})
}

// fuzzConn opens a database for a whole fuzz target.
func fuzzConn(f *testing.F) *sql.Conn {
	db, err := sql.Open("duckdb", "")
	require.NoError(f, err)
	c, err := db.Conn(context.Background())
	require.NoError(f, err)
	_, err = c.ExecContext(context.Background(), "SET threads=1")
	require.NoError(f, err)
	f.Cleanup(func() { require.NoError(f, c.Close()); require.NoError(f, db.Close()) })
	return c
}

// numberLike is what a number looks like in a cell, as the help says it: at most six
// digits before the mark, and a unit behind it.
var numberLike = regexp.MustCompile(`^(?i)([+-]?[0-9]{1,6})(?:([.,])([0-9]{1,12}))?[\t\n\f\r ]*(mm|cm)?$`)

// FuzzNumber puts any text into a column of lengths and one of whole numbers. What
// comes out is what a reader of decimal numbers makes of it with fractions, or nothing.
func FuzzNumber(f *testing.F) {
	for _, s := range []string{"6,5", "6.5 mm", "+0", "-0,0", "1e3", "000001.100000000000", "999999.999999999999", "1234567", "١٢", "6 ,5", "6,5mm", "½", "NaN", "0x1", " ", "-", "12 CM", "1.005 cm", "0.004999999999"} {
		f.Add(s, true)
		f.Add(s, false)
	}
	c := fuzzConn(f)
	m := &Mapping{file: "m.toml"}
	points, commas := &turner{m: m, src: Source{Decimal: "."}}, &turner{m: m, src: Source{Decimal: ","}}
	query := func(t *turner) string {
		mm, cm := cell{src: "x"}, cell{src: "x"}
		t.length(&mm, Column{Unit: "mm"})
		t.length(&cm, Column{Unit: "cm"})
		return fmt.Sprintf("SELECT %s, %s, CAST(%s AS VARCHAR) FROM (SELECT CAST(? AS VARCHAR) AS x)", mm.val, cm.val, t.wholeNumber("x", ""))
	}
	queries := map[bool]string{true: query(commas), false: query(points)}
	f.Fuzz(func(t *testing.T, text string, comma bool) {
		if !utf8.ValidString(text) || strings.ContainsRune(text, 0) || strings.TrimFunc(text, unicode.IsSpace) != text {
			return // no cell that reaches a column is like that
		}
		var mm, cm, whole sql.NullString
		require.NoError(t, c.QueryRowContext(context.Background(), queries[comma], text).Scan(&mm, &cm, &whole))
		p := numberLike.FindStringSubmatch(text)
		if p == nil || p[2] != "" && (p[2] == ",") != comma {
			require.Equal(t, []sql.NullString{{}, {}, {}}, []sql.NullString{mm, cm, whole}, "%q is no number", text)
			return
		}
		n, ok := new(big.Rat).SetString(p[1] + "." + p[3] + "0")
		require.True(t, ok)
		unit := strings.ToLower(p[4])
		exact := strings.TrimRight(p[3], "0")
		require.Equal(t, unit != "cm", mm.Valid, "%q in mm", text)
		if mm.Valid && len(exact) <= 8 {
			requireNumber(t, n, mm.String)
		}
		require.Equal(t, unit != "mm", cm.Valid, "%q in cm", text)
		if cm.Valid && len(exact) <= 8 {
			requireNumber(t, rounded(new(big.Rat).Mul(n, big.NewRat(10, 1))), cm.String)
		}
		if len(exact) <= 8 {
			require.Equal(t, unit == "" && n.IsInt(), whole.Valid, "%q as a whole number", text)
		}
		if whole.Valid && len(exact) <= 8 {
			requireNumber(t, n, whole.String)
		}
	})
}

func requireNumber(t *testing.T, want *big.Rat, got string) {
	t.Helper()
	have, ok := new(big.Rat).SetString(got)
	require.True(t, ok, "%q is no number", got)
	require.Zero(t, want.Cmp(have), "want %s, got %s", want.FloatString(12), got)
}

// rounded rounds to two decimals, halves away from zero.
func rounded(x *big.Rat) *big.Rat {
	hundredfold := new(big.Rat).Mul(x, big.NewRat(100, 1))
	half := big.NewRat(1, 2)
	if x.Sign() < 0 {
		half.Neg(half)
	}
	hundredfold.Add(hundredfold, half)
	return new(big.Rat).SetFrac(new(big.Int).Quo(hundredfold.Num(), hundredfold.Denom()), big.NewInt(100))
}

// FuzzDate puts any text into a column of dates of any form. What comes out is the day
// that stands there, read part by part, or nothing; a day that no calendar has never.
func FuzzDate(f *testing.F) {
	for _, s := range [][2]string{{"dd.mm.yyyy", "01.03.2024"}, {"dd.mm.yyyy", "31.02.2024"}, {"d/m/yy", "9/9/68"}, {"yyyy-mm-dd", "2024-02-29T12:30:05"}, {"mm/yyyy", "13/2024"}, {"yyyymmdd", "20240301"},
		{"yyyy", "2099"}, {"dd%mm%yyyy", "1%2%1999"}, {"yyyy-q", "2024-4"}, {"dd mm yyyy", "01  02 2024"}, {"yymmdd", "690101"}, {"dmyyyy", "1112024"}} {
		f.Add(s[0], s[1])
	}
	c := fuzzConn(f)
	t0 := &turner{m: &Mapping{file: "m.toml"}}
	f.Fuzz(func(t *testing.T, formText, text string) {
		if !utf8.ValidString(text) || !utf8.ValidString(formText) || strings.ContainsRune(text+formText, 0) || len(formText) > 40 {
			return
		}
		fm, err := parseForm(formText)
		if err != nil || fm.quarter {
			return
		}
		var got sql.NullTime
		require.NoError(t, c.QueryRowContext(context.Background(), "SELECT "+t0.date("x", fm)+" FROM (SELECT CAST(? AS VARCHAR) AS x)", text).Scan(&got), "form %q, text %q", formText, text)
		want, sure := readDate(fm, text)
		if want == nil {
			require.False(t, got.Valid, "%q by %q is no day, but %v", text, formText, got.Time)
			return
		}
		if got.Valid {
			require.Equal(t, want.Format(time.DateOnly), got.Time.Format(time.DateOnly), "%q by %q", text, formText)
		}
		require.True(t, got.Valid || !sure, "%q by %q is %s, but nothing was read", text, formText, want.Format(time.DateOnly))
	})
}

// readDate reads a date part by part: nil where it has another form or there is no such
// day. It is sure of it where signs that are no digits stand between the parts.
func readDate(fm *form, text string) (day *time.Time, sure bool) {
	parts := regexp.MustCompile(`^(?:` + fm.pattern + `)$`).FindStringSubmatch(text)
	if parts == nil {
		return nil, true
	}
	order := formParts.FindAllString(fm.text, -1)
	at := map[byte]int{'m': 1, 'd': 1}
	for i, p := range order {
		n, err := strconv.Atoi(parts[2+i])
		if err != nil {
			return nil, false
		}
		if p == "yy" {
			if n += 2000; n > 2068 {
				n -= 100
			}
		}
		at[p[0]] = n
	}
	d := time.Date(at['y'], time.Month(at['m']), at['d'], 0, 0, 0, 0, time.UTC)
	if int(d.Month()) != at['m'] || d.Day() != at['d'] {
		return nil, true
	}
	between := formParts.ReplaceAllString(fm.text, "\x00")
	return &d, !strings.Contains(between, "\x00\x00") && !strings.ContainsAny(between, "0123456789% \t\n\r\v\f")
}
