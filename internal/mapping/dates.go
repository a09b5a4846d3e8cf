package mapping

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"afterfit/internal/bundle"
)

// form is a form of dates: what a cell must look like and how DuckDB reads it.
type form struct {
	text                      string
	pattern                   string // of the whole cell; the date itself is group 1
	strptime                  string // "" for quarters
	yearGroup, quarterGroup   int
	year, month, day, quarter bool
	tight                     bool // parts stand side by side, with no sign between them
}

var formParts = regexp.MustCompile(`yyyy|yy|mm|m|dd|d|q`)

// parseForm reads a form such as "dd.mm.yyyy". d and m stand for what dd and mm
// stand for: one or two digits, and two where parts stand side by side, because nothing
// says how many digits are whose. A two-digit year is 1969 to 2068. A time of day
// behind the date is passed over.
func parseForm(text string) (*form, error) {
	f := &form{text: text, tight: strings.Contains(formParts.ReplaceAllString(text, "\x00"), "\x00\x00")}
	var pattern, strptime strings.Builder
	rest, groups := text, 1
	for rest != "" {
		at := formParts.FindStringIndex(rest)
		if at == nil {
			at = []int{len(rest), len(rest)}
		}
		between := rest[:at[0]]
		pattern.WriteString(regexp.QuoteMeta(between))
		strptime.WriteString(strings.ReplaceAll(between, "%", "%%"))
		part := rest[at[0]:at[1]]
		rest = rest[at[1]:]
		if part == "" {
			break
		}
		groups++
		if err := f.part(part, groups, &pattern, &strptime); err != nil {
			return nil, err
		}
	}
	f.pattern = `(?i)(` + pattern.String() + `)([ T]\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?)?`
	f.strptime = strptime.String()
	if f.quarter {
		f.strptime = ""
	}
	return f, f.whole()
}

func (f *form) part(part string, group int, pattern, strptime *strings.Builder) error {
	seen := map[string]*bool{"y": &f.year, "m": &f.month, "d": &f.day, "q": &f.quarter}[part[:1]]
	if *seen {
		return fmt.Errorf("%s twice", part[:1])
	}
	*seen = true
	digits := `(\d{1,2})`
	if f.tight {
		digits = `(\d{2})`
	}
	switch part {
	case "yyyy":
		pattern.WriteString(`((?:19|20)\d{2})`)
		strptime.WriteString("%Y")
		f.yearGroup = group
	case "yy":
		pattern.WriteString(`(\d{2})`)
		strptime.WriteString("%y")
	case "q":
		pattern.WriteString(`([1-4])`)
		f.quarterGroup = group
	case "mm", "m":
		pattern.WriteString(digits)
		strptime.WriteString("%m")
	default:
		pattern.WriteString(digits)
		strptime.WriteString("%d")
	}
	return nil
}

// whole reports a form that does not say when.
func (f *form) whole() error {
	switch {
	case !f.year:
		return errors.New("it has no year")
	case f.quarter && (f.month || f.day):
		return errors.New("a quarter beside a month or a day")
	case f.quarter && f.yearGroup == 0:
		return errors.New("a quarter needs a year of four digits")
	case f.day && !f.month:
		return errors.New("a day without a month")
	}
	return nil
}

// formOf gives the form of the dates in a column: its own, its source's, or that
// of the export; nil if none is said.
func (m *Mapping) formOf(src Source, spec Column) *form {
	for _, text := range []string{spec.Date, src.Date, m.Export.Date} {
		if text != "" {
			f, err := parseForm(text)
			if err != nil {
				return nil
			}
			return f
		}
	}
	return nil
}

// dayMode is how a cell becomes a day number.
type dayMode int

const (
	asIs         dayMode = iota // no day number, or one that stands as it is
	dateToDay                   // a date, counted from the case's records
	afterDeliver                // a number counted from the delivery
)

// dayMode says what a column needs besides its own row.
func (m *Mapping) dayMode(_ Source, col bundle.Column, spec Column) dayMode {
	if col.Kind != bundle.Day || spec.Value != "" {
		return asIs
	}
	if len(spec.FirstOf) > 0 {
		return m.dayMode(Source{}, col, spec.FirstOf[0])
	}
	switch {
	case spec.Unit == "" && (spec.Day0 == "" || spec.Day0 == fromRecords):
		return dateToDay
	case spec.Unit == "":
		return asIs
	case spec.Since == fromDelivery:
		return afterDeliver
	case spec.Since != "" && spec.Since != fromRecords:
		return dateToDay
	}
	return asIs
}
