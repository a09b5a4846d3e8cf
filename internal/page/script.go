package page

import (
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
		Copy:      w.Say("script.copy"),
		Copied:    w.Say("script.copied"),
		NotCopied: w.Say("script.not_copied"),
		Behind:    w.Say("script.behind", "number", "{number}"),
		Numbered:  w.Say("script.numbered", "number", "{number}", "caption", "{caption}"),
		Caption:   w.caption(""),
		Tables:    w.Say("script.tables"),
	}
}

// style is the stylesheet with what it says in the page's language.
func (w words) style() string {
	quoted := strings.NewReplacer(`\`, `\\`, `"`, `\"`)
	return strings.NewReplacer(
		"%style.needs_script%", quoted.Replace(w.Say("style.needs_script")),
		"%style.of%", quoted.Replace(w.Say("style.of")),
	).Replace(reports.Style)
}
