package intake

import (
	"bytes"
	"math"
	"math/bits"
	"time"

	"afterfit/internal/bundle"
)

// What follows says when a cell is certainly what its column holds. It may be
// stricter than the rules in cellRules, never more lenient.

// noValue is the value of a cell that no rule can let through.
const noValue = math.MinInt64

// emptyValue is the value of an empty cell.
const emptyValue = math.MinInt64 + 1

// soundCell gives a column's look at a cell: whether it is sound for certain, and its
// value where that is a number or a code. Cells of one value are one in SQL too.
func soundCell(c bundle.Column) func(cell []byte) (bool, int64) {
	some := soundText(c)
	return func(cell []byte) (bool, int64) {
		if len(cell) == 0 {
			return !c.Required, emptyValue
		}
		return some(cell)
	}
}

func soundText(c bundle.Column) func(cell []byte) (bool, int64) {
	switch c.Kind {
	case bundle.Code:
		return soundCode(c)
	case bundle.Codes:
		return soundCodes(c)
	case bundle.Period:
		return func(cell []byte) (bool, int64) { return isPeriod(cell), 0 }
	case bundle.AgeBand:
		band := soundCode(c)
		return func(cell []byte) (bool, int64) {
			ok, _ := band(cell)
			age, whole := wholeNumber(cell)
			return ok || whole && cell[0] != '-' && len(cell) <= 3 && age <= 130, 0
		}
	case bundle.Int, bundle.Day:
		return soundNumber(c, 1, wholeNumber)
	case bundle.Length:
		return soundNumber(c, 100, hundredths)
	}
	return func(cell []byte) (bool, int64) { return isPlain(cell), 0 }
}

// isPlain reports a text without control characters and without blanks around it.
func isPlain(cell []byte) bool {
	first, last := cell[0], cell[len(cell)-1]
	if len(cell) > textLimit || first == ' ' || last == ' ' || first >= 0x80 || last >= 0x80 { // there are blanks beyond ASCII
		return false
	}
	for _, b := range cell {
		if b < ' ' || b == 0x7f {
			return false
		}
	}
	return true
}

// soundCode takes one of the column's codes; its value is its place among them.
func soundCode(c bundle.Column) func(cell []byte) (bool, int64) {
	last, lastAt := "", int64(noValue)
	at := placeCodes(c.Codes)
	return func(cell []byte) (bool, int64) {
		if string(cell) == last && last != "" { // an empty part of a list is no code, before the first one either
			return true, lastAt
		}
		i := at.find(cell)
		if i < 0 {
			return false, noValue
		}
		last, lastAt = c.Codes[i], i
		return true, i
	}
}

// codePlaces finds a code among a few by its length and three of its letters.
type codePlaces struct {
	codes []string
	slots []int16 // place of a code + 1; 0 = free
}

func placeCodes(codes []string) *codePlaces {
	p := &codePlaces{codes, make([]int16, 8<<bits.Len(uint(len(codes))))}
	for i, code := range codes {
		at := p.slot([]byte(code))
		for p.slots[at] != 0 {
			at = p.next(at)
		}
		p.slots[at] = int16(i + 1) //nolint:gosec // codes are few
	}
	return p
}

func (p *codePlaces) slot(cell []byte) int {
	n := len(cell)
	if n == 0 {
		return 0
	}
	return (int(cell[0]) + 5*int(cell[n/2]) + 31*int(cell[n-1]) + 11*n) & (len(p.slots) - 1)
}

func (p *codePlaces) next(slot int) int { return (slot + 1) & (len(p.slots) - 1) }

// find gives the place of a code, -1 for what is none.
func (p *codePlaces) find(cell []byte) int64 {
	for at := p.slot(cell); p.slots[at] != 0; at = p.next(at) {
		if i := p.slots[at] - 1; p.codes[i] == string(cell) {
			return int64(i)
		}
	}
	return -1
}

// soundCodes takes a list of different codes, none only alone.
func soundCodes(c bundle.Column) func(cell []byte) (bool, int64) {
	one := soundCode(c)
	return func(cell []byte) (bool, int64) {
		if ok, _ := one(cell); ok {
			return true, 0
		}
		had := uint64(0)
		for {
			part, rest, more := bytes.Cut(cell, []byte{'|'})
			ok, at := one(part)
			if !ok || at >= 64 || had&(1<<at) != 0 || string(part) == "none" {
				return false, 0
			}
			had |= 1 << at
			if !more {
				return true, 0
			}
			cell = rest
		}
	}
}

// soundNumber takes a number in its plainest form and within the column's range.
// Unit is the value of 1.
func soundNumber(c bundle.Column, unit float64, number func([]byte) (int64, bool)) func(cell []byte) (bool, int64) {
	low, high := int64(math.MinInt64), int64(math.MaxInt64)
	if c.Hard != nil {
		low, high = int64(math.Ceil(c.Hard.Min*unit)), int64(math.Floor(c.Hard.Max*unit))
	}
	return func(cell []byte) (bool, int64) {
		n, ok := number(cell)
		if !ok {
			return false, noValue
		}
		return n >= low && n <= high, n
	}
}

// wholeNumber reads what wholePattern matches.
func wholeNumber(cell []byte) (n int64, ok bool) {
	digits := cell
	if digits[0] == '-' {
		digits = digits[1:]
	}
	if len(digits) == 0 || len(digits) > 6 {
		return 0, false
	}
	for _, b := range digits {
		if b < '0' || b > '9' {
			return 0, false
		}
		n = 10*n + int64(b-'0')
	}
	if len(digits) != len(cell) {
		n = -n
	}
	return n, true
}

// hundredths reads what lengthPattern matches, in hundredths.
func hundredths(cell []byte) (n int64, ok bool) {
	whole, part, point := bytes.Cut(cell, []byte{'.'})
	if point && (len(part) == 0 || len(part) > 2) || len(whole) == 0 || len(bytes.TrimPrefix(whole, []byte{'-'})) > 3 {
		return 0, false
	}
	if n, ok = wholeNumber(whole); !ok {
		return 0, false
	}
	n *= 100
	below := int64(0)
	for i, b := range part {
		if b < '0' || b > '9' {
			return 0, false
		}
		below += int64(b-'0') * []int64{10, 1}[i]
	}
	if whole[0] == '-' {
		below = -below
	}
	return n + below, true
}

// isPeriod reports what periodPattern matches, with a day of the calendar.
func isPeriod(cell []byte) bool {
	digit := func(at int) int { return int(cell[at]) - '0' }
	digits := func(from, to int) bool {
		for i := from; i < to; i++ {
			if d := digit(i); d < 0 || d > 9 {
				return false
			}
		}
		return true
	}
	if len(cell) < 4 || !digits(0, 4) || string(cell[:2]) != "19" && string(cell[:2]) != "20" {
		return false
	}
	switch len(cell) {
	case 4:
		return true
	case 7:
		if cell[4] != '-' {
			return false
		}
		if cell[5] == 'Q' {
			return cell[6] >= '1' && cell[6] <= '4'
		}
		return digits(5, 7) && isMonth(10*digit(5)+digit(6))
	case 10:
		if cell[4] != '-' || cell[7] != '-' || !digits(5, 7) || !digits(8, 10) {
			return false
		}
		year, month, day := 1000*digit(0)+100*digit(1)+10*digit(2)+digit(3), 10*digit(5)+digit(6), 10*digit(8)+digit(9)
		return isMonth(month) && day >= 1 && day <= daysOf(year, month)
	}
	return false
}

func isMonth(m int) bool { return m >= 1 && m <= 12 }

// daysOf is how many days a month has in the calendar.
func daysOf(year, month int) int {
	return time.Date(year, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day()
}

// soundRow gives a table's look at the values of a whole row, in the order of the
// contract: when certainly none of rowRules is broken.
func soundRow(t bundle.Table) func(values []int64) bool {
	place := func(name string) int {
		for i, c := range t.Columns {
			if c.Name == name {
				return i
			}
		}
		return -1
	}
	switch t.Name {
	case "trays":
		low, high := place("clearance_min_mm"), place("clearance_max_mm")
		return func(v []int64) bool {
			return v[low] == emptyValue || v[high] == emptyValue || v[low] <= v[high]
		}
	case "sore_spots":
		arch, zone := place("arch"), place("zone")
		of := map[[2]int64]bool{}
		for i, a := range t.Columns[arch].Codes {
			for _, z := range bundle.Zones(a) {
				for j, code := range t.Columns[zone].Codes {
					of[[2]int64{int64(i), int64(j)}] = of[[2]int64{int64(i), int64(j)}] || code == z
				}
			}
		}
		return func(v []int64) bool { return of[[2]int64{v[arch], v[zone]}] }
	case "readings":
		measure, value := place("measure"), place("value_mm")
		ranges := make([]bundle.Range, len(t.Columns[measure].Codes))
		for i, m := range t.Columns[measure].Codes {
			hard, _ := bundle.MeasureRanges(m)
			ranges[i] = *hard
		}
		return func(v []int64) bool {
			if v[measure] < 0 || v[value] == emptyValue {
				return false
			}
			r := ranges[v[measure]]
			return float64(v[value]) >= 100*r.Min && float64(v[value]) <= 100*r.Max
		}
	}
	return func([]int64) bool { return true }
}
