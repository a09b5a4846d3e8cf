package wording

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/language"
	xmessage "golang.org/x/text/message"
	"golang.org/x/text/number"
)

// None stands where there is no number.
const None = "–"

// marks are how a language writes numbers. They are read off what CLDR makes of a few
// numbers, in Western digits; rounding stays ours, so that every language shows the same.
type marks struct {
	decimal, group        string
	primary, secondary    int // how many digits stand behind the last mark, and between others
	least                 int // how many digits a number needs before marks stand in it
	percentFirst, percent string
}

func marksOf(tag language.Tag) marks {
	if western, err := tag.SetTypeForKey("nu", "latn"); err == nil {
		tag = western
	}
	p := xmessage.NewPrinter(tag)
	parts := strings.FieldsFunc(p.Sprint(number.Decimal(123456789.5)), func(r rune) bool { return !unicode.IsDigit(r) })
	signs := strings.FieldsFunc(p.Sprint(number.Decimal(123456789.5)), unicode.IsDigit)
	n := len(signs)
	m := marks{decimal: signs[n-1], primary: 3, secondary: 3, least: 4}
	if n > 1 {
		m.group, m.primary, m.secondary = signs[0], len(parts[n-1]), len(parts[n-1])
	}
	if n > 2 {
		m.secondary = len(parts[n-2])
	}
	if len(p.Sprint(number.Decimal(1234))) == 4 {
		m.least = 5
	}
	share := strings.SplitN(p.Sprint(number.Percent(0.5)), "50", 2)
	m.percentFirst, m.percent = share[0], share[len(share)-1]
	return m
}

// Number writes a number with its decimals, marks between thousands and a true minus
// sign; None where it is not a finite one. A value that rounds to zero has no sign.
func (c *Catalogue) Number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return None
	}
	s := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	whole, part, _ := strings.Cut(s, ".")
	whole = c.marks.grouped(whole)
	if part != "" {
		whole += c.marks.decimal + part
	}
	if v < 0 && strings.Trim(s, "0.") != "" {
		return "−" + whole
	}
	return whole
}

// Count writes a whole number.
func (c *Catalogue) Count(n int64) string { return c.Number(float64(n), 0) }

func (m marks) grouped(digits string) string {
	if m.group == "" || len(digits) < m.least {
		return digits
	}
	for i, step := len(digits)-m.primary, m.secondary; i > 0; i -= step {
		digits = digits[:i] + m.group + digits[i:]
	}
	return digits
}

// Percent puts the percent sign where the language has it.
func (c *Catalogue) Percent(figure string) string {
	return c.marks.percentFirst + figure + c.marks.percent
}

// Tick writes a number beside an axis: as short as it is, without marks between
// thousands, which a scale of round steps does not need.
func (c *Catalogue) Tick(v float64) string {
	s := strconv.FormatFloat(math.Round(v*1000)/1000, 'g', -1, 64)
	return strings.Replace(strings.Replace(s, ".", c.marks.decimal, 1), "-", "−", 1)
}

// Decimal is the decimal mark.
func (c *Catalogue) Decimal() string { return c.marks.decimal }

// Thousands is the mark between thousands, "" for none.
func (c *Catalogue) Thousands() string { return c.marks.group }

var isoPeriod = regexp.MustCompile(`^(\d{4})-(?:(\d{2})(?:-(\d{2}))?|Q([1-4]))$`)

// Period writes a day, a month or a quarter that stands as 2026-07-14, 2026-07 or 2026-Q3
// the way the language does; any other text, a year too, stands as it is.
func (c *Catalogue) Period(iso string) string {
	p := isoPeriod.FindStringSubmatch(iso)
	switch {
	case p == nil:
		return iso
	case p[4] != "":
		return c.Say("date.quarter", "year", p[1], "quarter", p[4])
	case p[3] != "":
		return c.Say("date.day", "year", p[1], "month", p[2], "day", p[3])
	}
	return c.Say("date.month", "year", p[1], "month", p[2])
}
