package page

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"afterfit/internal/chart"
	"afterfit/reports"
)

// script is what boot.js says in the page's language, and how it writes numbers. Where
// the script puts something in, its name stands between braces.
func (w words) script() chart.Words {
	return chart.Words{
		Language: w.Code, Decimal: w.Decimal(), Thousands: w.Thousands(), Percent: w.Percent("{n}"), Range: w.span("", ""),
		Day:       w.Say("script.day", "day", "{day}"),
		Periods:   w.periodsOf(),
		Copy:      w.Say("script.copy"),
		Copied:    w.Say("script.copied"),
		NotCopied: w.Say("script.not_copied"),
		Behind:    w.Say("script.behind", "number", "{number}"),
		Numbered:  w.Say("script.numbered", "number", "{number}", "caption", "{caption}"),
		Caption:   w.caption(""),
		Tables:    w.Say("script.tables"),
	}
}

// periodsOf are quarters, months and days as the language writes them, from which the
// script reads what a cell says.
func (w words) periodsOf() string {
	var quarters, months, days []string
	for i := 1; i <= 12; i++ {
		month := fmt.Sprintf("%02d", i)
		if i <= 4 {
			quarters = append(quarters, w.Say("date.quarter", "year", "{year}", "quarter", strconv.Itoa(i)))
		}
		months = append(months, w.Say("date.month", "year", "{year}", "month", month))
		days = append(days, w.Say("date.day", "year", "{year}", "month", month, "day", "{day}"))
	}
	return strings.Join(slices.Concat(quarters, months, days), "\n")
}

// style is the stylesheet with what it says in the page's language.
func (w words) style() string {
	quoted := strings.NewReplacer(`\`, `\\`, `"`, `\"`)
	return strings.NewReplacer(
		"%style.needs_script%", quoted.Replace(w.Say("style.needs_script")),
		"%style.of%", quoted.Replace(w.Say("style.of")),
	).Replace(reports.Style)
}
