package privacy

import (
	"fmt"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func check(b Basis, name string, cells ...string) []Finding { return Check(b, profiled(name, cells)) }

func kindsOf(findings []Finding) (list []Kind) {
	for _, f := range findings {
		list = append(list, f.Kind)
	}
	return list
}

func TestMaskKeepsNoLetterAndNoDigit(t *testing.T) {
	for in, want := range map[string]string{
		"Müller, Hans": "Aaaaaa, Aaaa", "078-05-1120": "999-99-9999", "İ٣ß€": "A9a?", "a\tb\u0301\x00": "a a?", "": "",
		strings.Repeat("x", 40): strings.Repeat("a", 32) + "...",
	} {
		assert.Equal(t, want, Mask(in), "%q", in)
	}
}

func TestBasisDecidesWhatStops(t *testing.T) {
	dates := []string{"2024-03-01", "2024-03-02"}
	for b, want := range map[Basis]int{SafeHarbor: 1, Unstated: 1, LimitedDataSet: 0, ConsentedLocal: 0} {
		assert.Len(t, check(b, "c", dates...), want, "dates under %q", b)
		got := check(b, "c", "a.b@example.org")
		require.Len(t, got, 1, "%q", b)
		assert.True(t, got[0].Stops, "an e-mail address stops under %q", b)
	}
	hash := strings.Repeat("0a", 16)
	assert.True(t, check(SafeHarbor, "c", hash)[0].Stops)
	assert.False(t, check(LimitedDataSet, "c", hash)[0].Stops, "only remarked on")
	assert.False(t, Basis("none").Known())
	c := profiled("records_on", []string{"2024-03"})
	c.InContract, c.Period = true, true
	assert.False(t, Check(Unstated, c)[0].Stops)
	assert.True(t, Check(SafeHarbor, c)[0].Stops)
	c = profiled("records_on", []string{"2024"})
	c.InContract, c.Period = true, true
	assert.Empty(t, Check(SafeHarbor, c), "a year is allowed")
}

func TestPostalCodesKeepThreeDigits(t *testing.T) {
	assert.Empty(t, check(SafeHarbor, "zip", "100", "606", "941"))
	assert.Equal(t, []Kind{PostalCode}, kindsOf(check(SafeHarbor, "zip", "100", "036")), "an area of few people")
	assert.Equal(t, []Kind{PostalCode}, kindsOf(check(SafeHarbor, "zip", "10001")))
}

func keys(format string, n, step, from int) []string {
	list := make([]string, n)
	for i := range list {
		list[i] = fmt.Sprintf(format, from+i*step)
	}
	return list
}

func TestKeysThatCountLikeCharts(t *testing.T) {
	scattered := make([]string, 40)
	for i := range scattered {
		scattered[i] = fmt.Sprintf("P%06d", (i*i*7919+i*104729)%1_000_000)
	}
	for name, c := range map[string]struct {
		keys []string
		want bool
	}{
		"a running number":        {keys("P%08d", 300, 1, 1), false},
		"a later running number":  {keys("P%08d", 50, 1, 900), false},
		"gaps in a narrow range":  {keys("P%08d", 60, 7, 40210), true},
		"bare, of three lengths":  {keys("%d", 60, 37, 80), true},
		"the whole range is used": {scattered, false},
		"too few to tell":         {keys("P%08d", 19, 7, 40210), false},
		"different letters":       {append(keys("A%06d", 30, 9, 500), keys("B%06d", 30, 9, 500)...), false},
	} {
		col := profiled("patient_key", c.keys)
		col.InContract, col.Pseudonym = true, true
		got := Check(SafeHarbor, col)
		assert.Equal(t, c.want, len(got) == 1 && got[0].Kind == ChartNumber, "%s: %+v", name, got)
		col.Pseudonym = false
		assert.Empty(t, Check(SafeHarbor, col), name)
	}
}

func TestHeaderThatIsAValueIsMasked(t *testing.T) {
	assert.Equal(t, "Aaaaaa, Aaaa", SafeHeader("Müller, Hans"))
	for _, h := range []string{"patient_name", "vdr_mm", "Fall-Nr.", "records_on", ""} {
		assert.Equal(t, h, SafeHeader(h))
	}
}

func TestClearTakesOneKindInOneColumn(t *testing.T) {
	found := []Finding{{Table: "cases", Column: "lab", Kind: Name}, {Table: "cases", Column: "lab", Kind: Email}, {Table: "cases", Column: "site", Kind: Name}}
	ok := Clearance{"cases", "lab", Name, "names of laboratories"}
	stale := Clearance{"cases", "clinician", Name, "codes"}
	left, used := Clear(found, []Clearance{stale, ok})
	assert.Equal(t, found[1:], left)
	assert.Equal(t, []Clearance{ok}, used)
	assert.NoError(t, ok.Validate())
	for _, bad := range []Clearance{{"", "lab", Name, "x"}, {"cases", "", Name, "x"}, {"cases", "lab", "names", "x"}, {"cases", "lab", Name, " "}} {
		assert.Error(t, bad.Validate())
	}
}

// TestSmallCells: five cells counted by hand.
func TestSmallCells(t *testing.T) {
	cells := []Cell{
		{"60-69", "female", "S1", "2024-Q1", "1", 1, 1},
		{"60-69", "female", "S1", "2024-Q2", "1", 1, 0},
		{"70-79", "female", "S1", "2024-Q1", "2", 3, 0},
		{"70-79", "male", "S1", "2024-Q1", "2", 6, 2},
		{"70-79", "male", "S2", "2024-Q1", "2", 12, 12},
	}
	r := SmallCells(cells, true)
	assert.Equal(t, []KShare{{1, 1, 2}, {2, 4, 3}, {5, 10, 6}, {11, 0, 12}}, r.K)
	assert.EqualValues(t, 23, r.Cases)
	assert.EqualValues(t, 2, r.Unique)
	assert.EqualValues(t, 5, r.Below5)
	assert.EqualValues(t, 1, r.SmallestK)
	assert.EqualValues(t, 3+12, r.SameOutcome, "the three without a remake and the twelve with one")
	assert.Equal(t, Coarsening{byYear.what, 0, 5}, r.Mends[0], "the two quarters join to a group of two")
	m, ok := r.Mend()
	assert.True(t, ok)
	assert.Equal(t, r.Mends[0], m, "the mildest that leaves nobody alone")
	assert.EqualValues(t, 0, SmallCells(cells, false).SameOutcome)
	none := SmallCells(nil, true)
	assert.Zero(t, none.Cases)
	_, ok = none.Mend()
	assert.False(t, ok)
}

func TestEveryKindHasWordsAndAHeader(t *testing.T) {
	spoken := map[Kind]bool{Hash: true, ChartNumber: true} // told by values alone
	for _, p := range headerList() {
		require.Contains(t, Kinds(), p.kind, "headers.txt: %v", p.words)
		require.NotEmpty(t, p.words)
		spoken[p.kind] = spoken[p.kind] || !p.not
	}
	for _, k := range Kinds() {
		assert.NotEqual(t, string(k), k.Words())
		assert.NotEmpty(t, k.Remedy())
		assert.True(t, spoken[k], "no header speaks of %s", k)
	}
}

// FuzzClassify: any text passes through every rule, and its mask keeps none of its
// letters and digits but those that masks are made of.
func FuzzClassify(f *testing.F) {
	for _, e := range examples {
		f.Add(e.number)
	}
	for _, s := range []string{"Müller, Hans", "J. S.", "12. März 2024", "fe80::1", "a@b.example", "\xff\xfe", "-", "€,", "Q1 2024", strings.Repeat("9", 40), "1M8GDM9AXKP042788"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, h := range classify(s) {
			if h.kind.Words() == string(h.kind) || !h.sure && h.tag == "" {
				t.Errorf("a hit without a kind or a tag: %+v", h)
			}
		}
		for _, k := range Kinds() {
			plausible(k, s)
		}
		for _, r := range Mask(s) {
			if (unicode.IsLetter(r) || unicode.IsDigit(r)) && !strings.ContainsRune("Aa9", r) {
				t.Errorf("the mask of %q keeps %q", s, r)
			}
		}
		headerKinds(s)
	})
}
