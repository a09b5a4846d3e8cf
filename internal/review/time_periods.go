package review

import (
	"fmt"
	"strconv"
	"strings"
)

// Periods of records are as fine as the records allow: month, quarter or year.
const (
	byMonth   = "month"
	byQuarter = "quarter"
	byYear    = "year"
)

var perYear = map[string]int{byMonth: 12, byQuarter: 4, byYear: 1}

// fineness is the finest period in which 99 of 100 delivered dentures can be placed,
// and how many cannot.
func (d *dentures) fineness() (kind string, lost int64) {
	on := d.codes["records_on"]
	dentures := make([]int64, len(on.levels)+1)
	for i := range d.n {
		dentures[on.at(i)]++
	}
	var months, quarters int64
	for at, period := range on.levels {
		if len(period) > 4 {
			quarters += dentures[at]
		}
		if len(period) >= 7 && !strings.Contains(period, "Q") {
			months += dentures[at]
		}
	}
	all := int64(d.n)
	switch {
	case 100*months >= 99*all:
		return byMonth, all - months
	case 100*quarters >= 99*all:
		return byQuarter, all - quarters
	}
	return byYear, 0
}

// quarterOf is the quarter of a period of records, as linked_dentures has it; a year is its
// own.
func quarterOf(period string) string {
	number, err := periodNumber(byQuarter, period)
	if err != nil || len(period) == 4 {
		return period
	}
	return periodName(byQuarter, number)
}

// periodNumber counts periods of a kind from year 0, so that the next has the next
// number. A period finer than asked for is placed in the one that holds it; a coarser
// one stands for its first part.
func periodNumber(kind, period string) (int, error) {
	bad := fmt.Errorf("period %q is not YYYY, YYYY-Qn, YYYY-MM or YYYY-MM-DD", period)
	if len(period) < 4 {
		return 0, bad
	}
	year, err := strconv.Atoi(period[:4])
	if err != nil {
		return 0, bad
	}
	month := 1
	switch rest := strings.TrimPrefix(period[4:], "-"); {
	case len(period) == 4:
	case len(period) == 7 && rest[0] == 'Q' && rest[1] >= '1' && rest[1] <= '4':
		month = 3*int(rest[1]-'0') - 2
	case len(period) == 7 || len(period) == 10:
		if month, err = strconv.Atoi(rest[:2]); err != nil || month < 1 || month > 12 {
			return 0, bad
		}
	default:
		return 0, bad
	}
	return year*perYear[kind] + (month-1)*perYear[kind]/12, nil
}

// periodName undoes periodNumber.
func periodName(kind string, number int) string {
	per := perYear[kind]
	switch year, part := number/per, number%per; kind {
	case byMonth:
		return fmt.Sprintf("%04d-%02d", year, part+1)
	case byQuarter:
		return fmt.Sprintf("%04d-Q%d", year, part+1)
	default:
		return fmt.Sprintf("%04d", year)
	}
}
