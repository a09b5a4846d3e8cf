//go:build faults

package intake

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// mutant is an export with faults put into it on purpose, as it was written.
type mutant struct {
	form     string
	path     string // of the export
	mapping  string // of the mapping file, "" for a case bundle
	names    []string
	target   int                   // how many files are written before the one whose bytes are changed, -2 for none
	grids    map[string][][]string // by file or sheet: what was written, before bytes were changed
	cut      map[string]bool       // files whose bytes were changed: what they hold is not known
	texts    map[string][]byte     // by file: its bytes
	done     []string              // what was changed
	noteText string
}

// forms are the shapes that the exports come in.
var forms = []string{"bundle", "bundle", "bundle.gz", "bundle.xlsx", "comma", "semicolon", "tab", "utf-16", "latin-1", "xlsx", "ndjson"}

// odd are contents that real exports have held where something else belongs.
var odd = []string{"", " ", "-", "NA", "n/a", "NULL", "nan", "Infinity", "-0", "0", "00", "+5", "1e3", "1e308", "0x1F", "١٢", "1,5", "1.234,56", "1'000", "6.5 mm", "½",
	"9999999999", "-9223372036854775808", "92233720368547758070", "0.000000000000000001", "31.02.2024", "29.02.2023", "00.00.0000", "1.1.24", "2024-13-01", "12/31/2024", "9999-12-31", "0001-01-01",
	"2024-03-01T25:61:00Z", "2024-Q5", "45352", "K1", "K2", "V1", "upper", "UPPER ", "oberer", "ja", "yes|no", "|", "||", "sore|", "=1+1", "@SUM(A1)", "'", "\"", "\"\"", "a\"b", ",", ";", "\t", "a\nb", "a\r\nb", "\r",
	"\u00a0", "\u200b", "\ufeff", "\u202eabc", "é", "e\u0301", "İ", "ß", "🦷", "\ufffd", "\x7f", "\x01", "%s%n", "%d", "{n}", "$1", "\\", "' OR 1=1 --", "*", "?", "[x]", strings.Repeat("9", 400), strings.Repeat("x", 5000), strings.Repeat("ä ", 3000)}

const mutantTitle = "Report of June"

const mutantNote = "basis = \"limited_data_set\"\ninvented = true\n"

// makeMutant writes export number i of a seed into dir.
func makeMutant(t testing.TB, seed uint64, i int, dir string) *mutant {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, uint64(i)))
	m := sound(forms[r.IntN(len(forms))])
	for range 1 + r.IntN(4) {
		m.change(r)
	}
	if r.IntN(3) == 0 {
		m.target = r.IntN(len(m.names))
		if strings.HasSuffix(m.form, "xlsx") {
			m.target = 0
		}
	}
	m.write(t, r, dir)
	return m
}

// soundExport writes an export without a fault into dir.
func soundExport(t testing.TB, form, dir string) *mutant {
	t.Helper()
	m := sound(form)
	m.write(t, rand.New(rand.NewPCG(1, 1)), dir)
	return m
}

// sound is an export without a fault.
func sound(form string) *mutant {
	m := &mutant{form: form, target: -2, grids: map[string][][]string{}, cut: map[string]bool{}, texts: map[string][]byte{}, noteText: mutantNote}
	if m.isBundle() {
		for _, name := range []string{"cases", "dentures", "records", "readings", "trays", "visits", "sore_spots", "remakes"} {
			m.put(name, gridFrom(small[name+".csv"]))
		}
		return m
	}
	m.put("cases", gridFrom(mutantCases))
	m.put("visits", gridFrom(mutantVisits))
	return m
}

func (m *mutant) isBundle() bool { return strings.HasPrefix(m.form, "bundle") }

func (m *mutant) put(name string, grid [][]string) {
	m.names, m.grids[name] = append(m.names, name), grid
}

func gridFrom(text string) (grid [][]string) {
	for _, line := range strings.Split(strings.TrimSuffix(text, "\n"), "\n") {
		grid = append(grid, strings.Split(line, ","))
	}
	return grid
}

// deadly are changes after which most exports are refused at once; they are rarer, so
// that the others are seen.
var deadly = map[string]bool{"title": true, "table away": true, "nothing": true, "no rows": true, "odd header": true, "column away": true, "content of another table": true,
	"header in capitals": true, "column twice": true, "column without a name": true, "headers swapped": true, "blank around cells": true}

// change makes one change to the cells, rows or columns of one table.
func (m *mutant) change(r *rand.Rand) {
	name := m.names[r.IntN(len(m.names))]
	g := m.grids[name]
	if len(g) == 0 || len(g[0]) == 0 {
		return
	}
	row := r.IntN(len(g))
	kinds := []struct {
		name string
		do   func()
	}{
		{"odd cell", func() { setCell(r, g[row], odd[r.IntN(len(odd))]) }},
		{"odd cell", func() { setCell(r, g[len(g)-1], odd[r.IntN(len(odd))]) }},
		{"cell of another row", func() { setCell(r, g[row], pickCell(r, g)) }},
		{"letter", func() { changeLetter(r, g[row]) }},
		{"row twice", func() { g = insert(g, row, g[row]) }},
		{"row away", func() { g = append(g[:row:row], g[row+1:]...) }},
		{"rows swapped", func() { o := r.IntN(len(g)); g[row], g[o] = g[o], g[row] }},
		{"blank row", func() { g = insert(g, row, make([]string, r.IntN(2)*len(g[0]))) }},
		{"title", func() { g = insert(g, 0, []string{mutantTitle}) }},
		{"total", func() { g = append(g, append([]string{"Sum"}, make([]string, len(g[0])-1)...)) }},
		{"header again", func() { g = insert(g, row, g[0]) }},
		{"cell too many", func() { g[row] = append(append([]string{}, g[row]...), "x") }},
		{"cell too few", func() { g[row] = append([]string{}, g[row][:max(len(g[row])-1, 0)]...) }},
		{"column twice", func() { eachRow(g, func(c []string) []string { return append(append([]string{}, c...), c[0]) }) }},
		{"column away", func() { n := r.IntN(len(g[0])); eachRow(g, func(c []string) []string { return without(c, n) }) }},
		{"columns swapped", func() {
			a, b := r.IntN(len(g[0])), r.IntN(len(g[0]))
			eachRow(g, func(c []string) []string { return swapped(c, a, b) })
		}},
		{"headers swapped", func() { g[0] = swapped(g[0], r.IntN(len(g[0])), r.IntN(len(g[0]))) }},
		{"header in capitals", func() { g[0] = each1(g[0], strings.ToUpper) }},
		{"odd header", func() { setCell(r, g[0], odd[r.IntN(len(odd))]) }},
		{"column without a name", func() { eachRow(g, func(c []string) []string { return append(append([]string{}, c...), "") }) }},
		{"table away", func() { delete(m.grids, name); m.names = dropped(m.names, name) }},
		{"no rows", func() { g = g[:1] }},
		{"nothing", func() { g = nil }},
		{"content of another table", func() { g = clone(m.grids[m.names[r.IntN(len(m.names))]]) }},
		{"column of odd cells", func() { n, o := r.IntN(len(g[0])), odd[r.IntN(len(odd))]; oddColumn(g, n, o) }},
		{"blank around cells", func() {
			eachRow(g, func(c []string) []string { return each1(c, func(s string) string { return " " + s + "\u00a0" }) })
		}},
		{"many rows", func() { g = manyRows(g) }},
	}
	k := kinds[r.IntN(len(kinds))]
	if deadly[k.name] && r.IntN(4) > 0 {
		k = kinds[r.IntN(3)]
	}
	if len(m.names) == 1 && k.name == "table away" {
		return
	}
	k.do()
	if _, ok := m.grids[name]; ok {
		m.grids[name] = g
	}
	m.done = append(m.done, k.name+" in "+name)
}

func setCell(r *rand.Rand, row []string, s string) {
	if len(row) > 0 {
		row[r.IntN(len(row))] = s
	}
}

func pickCell(r *rand.Rand, g [][]string) string {
	row := g[r.IntN(len(g))]
	if len(row) == 0 {
		return ""
	}
	return row[r.IntN(len(row))]
}

func changeLetter(r *rand.Rand, row []string) {
	if len(row) == 0 {
		return
	}
	i := r.IntN(len(row))
	letters := []rune(row[i])
	at := r.IntN(len(letters) + 1)
	letters = append(letters[:at:at], append([]rune{rune(r.IntN(0x180))}, letters[at:]...)...)
	row[i] = string(letters)
}

func insert(g [][]string, at int, row []string) [][]string {
	return append(g[:at:at], append([][]string{append([]string{}, row...)}, g[at:]...)...)
}

func eachRow(g [][]string, f func([]string) []string) {
	for i, row := range g {
		if len(row) > 0 {
			g[i] = f(row)
		}
	}
}

func without(c []string, n int) []string {
	if n >= len(c) {
		return c
	}
	return append(c[:n:n], c[n+1:]...)
}

func swapped(c []string, a, b int) []string {
	c = append([]string{}, c...)
	if a < len(c) && b < len(c) {
		c[a], c[b] = c[b], c[a]
	}
	return c
}

func each1(c []string, f func(string) string) []string {
	out := make([]string, len(c))
	for i, s := range c {
		out[i] = f(s)
	}
	return out
}

func dropped(names []string, name string) (out []string) {
	for _, n := range names {
		if n != name {
			out = append(out, n)
		}
	}
	return out
}

func clone(g [][]string) (out [][]string) {
	for _, row := range g {
		out = append(out, append([]string{}, row...))
	}
	return out
}

func oddColumn(g [][]string, n int, s string) {
	for _, row := range g[1:] {
		if n < len(row) {
			row[n] = s
		}
	}
}

// manyRows repeats the rows with another first cell, so that they are other rows.
func manyRows(g [][]string) [][]string {
	for n := range 60 {
		row := append([]string{}, g[1%len(g)]...)
		if len(row) > 0 {
			row[0] += strconv.Itoa(n)
		}
		g = append(g, row)
	}
	return g
}

// write puts the export into dir in its form, and changes bytes of some of them.
func (m *mutant) write(t testing.TB, r *rand.Rand, dir string) {
	t.Helper()
	m.path = filepath.Join(dir, "export")
	require.NoError(t, os.Mkdir(m.path, 0o700))
	if m.form == "bundle.xlsx" || m.form == "xlsx" {
		m.path = filepath.Join(dir, "export.xlsx")
		m.save(t, r, "export.xlsx", m.workbook(t))
	} else {
		for _, name := range m.names {
			m.save(t, r, name+m.ending(), m.text(r, m.grids[name]))
		}
		if m.isBundle() {
			require.NoError(t, os.WriteFile(filepath.Join(m.path, noteFile), []byte(m.noteText), 0o600))
		}
	}
	if !m.isBundle() {
		m.mapping = filepath.Join(dir, "mapping.toml")
		require.NoError(t, os.WriteFile(m.mapping, []byte(m.mappingText()), 0o600))
	}
}

func (m *mutant) ending() string {
	return map[string]string{"bundle": ".csv", "bundle.gz": ".csv.gz", "tab": ".tsv", "ndjson": ".ndjson"}[m.form] + map[string]string{"comma": ".csv", "semicolon": ".csv", "utf-16": ".txt", "latin-1": ".csv"}[m.form]
}

// save writes one file, the chosen one with some bytes changed.
func (m *mutant) save(t testing.TB, r *rand.Rand, name string, content []byte) {
	t.Helper()
	if m.target--; m.target == -1 && len(content) > 0 {
		content = changeBytes(r, content)
		m.cut[name] = true
		m.done = append(m.done, "bytes of "+name)
	}
	if strings.HasSuffix(name, ".gz") {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		_, err := z.Write(content)
		require.NoError(t, err)
		require.NoError(t, z.Close())
		m.texts[name] = content
		content = b.Bytes()
		if m.target == -1 && r.IntN(2) == 0 {
			content, m.cut[name] = changeBytes(r, content), true
		}
	} else {
		m.texts[name] = content
	}
	at := m.path
	if !strings.HasSuffix(at, name) {
		at = filepath.Join(at, name)
	}
	require.NoError(t, os.WriteFile(at, content, 0o600))
}

// changeBytes cuts, doubles, overwrites or inserts a few stretches of bytes.
func changeBytes(r *rand.Rand, b []byte) []byte {
	b = append([]byte{}, b...)
	special := []string{"\"", "\"\"", ",", ";", "\t", "\n", "\r", "\r\n", "\x00", "\xff", "\xfe", "\x80", "\xc3", "\xef\xbb\xbf", "\xff\xfe", "'", "{", "}", "[", "null", ":", "<", ">", "&", "PK\x03\x04"}
	for range 1 + r.IntN(3) {
		if len(b) == 0 {
			return b
		}
		at := r.IntN(len(b))
		n := min(1+r.IntN(40), len(b)-at)
		switch r.IntN(6) {
		case 0:
			b[at] ^= 1 << r.IntN(8)
		case 1:
			b = append(b[:at:at], b[at+n:]...)
		case 2:
			b = append(b[:at+n:at+n], b[at:]...)
		case 3:
			b = b[:at]
		case 4:
			b[at] = byte(r.IntN(256))
		default:
			b = append(b[:at:at], append([]byte(special[r.IntN(len(special))]), b[at:]...)...)
		}
	}
	return b
}

// text writes a grid as delimited text or JSON.
func (m *mutant) text(r *rand.Rand, g [][]string) []byte {
	if m.form == "ndjson" {
		return jsonLines(g)
	}
	delim := map[string]string{"semicolon": ";", "latin-1": ";", "tab": "\t", "utf-16": ";"}[m.form]
	if delim == "" {
		delim = ","
	}
	end, quoteAll := []string{"\n", "\r\n"}[r.IntN(2)], r.IntN(5) == 0
	var b strings.Builder
	for _, row := range g {
		for i, c := range row {
			if i > 0 {
				b.WriteString(delim)
			}
			if quoteAll || strings.ContainsAny(c, delim+"\"\r\n") {
				c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
			}
			b.WriteString(c)
		}
		b.WriteString(end)
	}
	text := b.String()
	switch {
	case m.form == "utf-16":
		return utf16Text(text, r.IntN(2) == 0)
	case m.form == "latin-1":
		return []byte(latin1Text(text))
	case r.IntN(6) == 0:
		text = "\ufeff" + text
	}
	return []byte(text)
}

func utf16Text(s string, big bool) []byte {
	var out []byte
	for _, u := range utf16.Encode([]rune("\ufeff" + s)) {
		if big {
			out = append(out, byte(u>>8), byte(u))
		} else {
			out = append(out, byte(u), byte(u>>8))
		}
	}
	return out
}

func latin1Text(s string) string {
	var b strings.Builder
	for _, r := range s {
		if r > 0xff {
			r = '?'
		}
		b.WriteByte(byte(r))
	}
	return b.String()
}

// jsonLines writes one object a row, by the names of the first row.
func jsonLines(g [][]string) []byte {
	var b bytes.Buffer
	if len(g) == 0 {
		return nil
	}
	for _, row := range g[1:] {
		b.WriteByte('{')
		for i, c := range row {
			name := "extra"
			if i < len(g[0]) {
				name = g[0][i]
			}
			if i > 0 {
				b.WriteByte(',')
			}
			k, _ := json.Marshal(name)
			v, _ := json.Marshal(c)
			b.Write(k)
			b.WriteByte(':')
			b.Write(v)
		}
		b.WriteString("}\n")
	}
	return b.Bytes()
}

// workbook writes the tables as sheets.
func (m *mutant) workbook(t testing.TB) []byte {
	t.Helper()
	f := excelize.NewFile()
	sheets := m.names
	if m.isBundle() {
		m.put("bundle", [][]string{{"key", "value"}, {"basis", "limited_data_set"}, {"invented", "yes"}})
		sheets = m.names
		m.names = m.names[:len(m.names)-1]
	}
	for _, name := range sheets {
		_, err := f.NewSheet(name)
		require.NoError(t, err)
		for i, row := range m.grids[name] {
			for j, c := range row {
				at, err := excelize.CoordinatesToCellName(j+1, i+1)
				require.NoError(t, err)
				if c != "" {
					require.NoError(t, f.SetCellStr(name, at, c))
				}
			}
		}
	}
	require.NoError(t, f.DeleteSheet("Sheet1"))
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	require.NoError(t, f.Close())
	return b.Bytes()
}

// An invented export with words of its own, which the mapping below turns.
const mutantCases = "Nr,Pat,Start,Alter,Klasse,Ende,VDO\nK1,P1,01.03.2024,72,II,01.03.2025,62.5\nK2,P2,15.04.2024,81,IV,31.12.2024,63.25\nK3,P2,16.04.2024,55,I,31.12.2024,61\n"

const mutantVisits = "Nr,Tag,Kiefer,Min,Zone\nK1,11.03.2024,OK,15,tuberosity\nK1,20.04.2024,UK,20,retromolar_pad\nK2,01.05.2024,OK,,\nK3,02.06.2024,UK,30,genial\n"

func (m *mutant) mappingText() string {
	source := func(name string) string {
		s := "[sources." + name + "]\n"
		if m.form == "xlsx" {
			return s + "file = \"export.xlsx\"\nsheet = \"" + name + "\"\n"
		}
		s += "file = \"" + name + m.ending() + "\"\n"
		if m.form == "latin-1" {
			s += "encoding = \"latin-1\"\ndelimiter = \";\"\n"
		}
		return s + "skip = [\"Sum*\"]\n"
	}
	return `[export]
basis = "limited_data_set"
invented = true
date = "dd.mm.yyyy"
empty = ["-", "n/a"]
absent = ["dentures", "readings", "trays", "remakes"]
` + source("cases") + source("visits") + `[[cases]]
from = "cases"
[cases.columns]
case_id = { column = "Nr" }
patient_key = { column = "Pat" }
site = { value = "S1" }
clinician = { value = "C1" }
records_on = { column = "Start", keep = "month" }
age_band = { column = "Alter" }
ridge_class = { column = "Klasse", numerals = "roman" }
observed_to_day = { column = "Ende", day0 = "records" }
[[records]]
from = "cases"
[records.columns]
case_id = { column = "Nr" }
vdo_mm = { column = "VDO", unit = "mm" }
[[visits]]
from = "visits"
[visits.columns]
visit_id = { join = ["Nr", "Tag"] }
case_id = { column = "Nr" }
day = { column = "Tag", day0 = "records" }
arch = { column = "Kiefer", codes = "arch" }
adjusted = { value = "yes" }
minutes = { column = "Min", unit = "min" }
[[sore_spots]]
from = "visits"
where = [{ column = "Zone", filled = true }]
[sore_spots.columns]
visit_id = { join = ["Nr", "Tag"] }
arch = { column = "Kiefer", codes = "arch" }
zone = { column = "Zone" }
[codes.arch]
OK = "upper"
UK = "lower"
`
}
