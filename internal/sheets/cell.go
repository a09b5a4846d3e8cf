package sheets

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// lastSerial is 9999-12-31 in the 1900 system.
const lastSerial = 2958466

// dateText writes a serial date as yyyy-mm-dd, with hh:mm:ss where it is not
// midnight, and a serial below one day as a time alone. The 1900 system counts a
// 29 February 1900 that never was: serial 60 and everything outside 0 to the year
// 9999 is no date and stays a number.
func dateText(serial float64, date04 bool) (string, bool) {
	if !(serial >= 0 && serial < lastSerial) {
		return "", false
	}
	seconds := int64(math.Round(serial * 86400))
	days, rest := seconds/86400, seconds%86400
	clock := time.Unix(rest, 0).UTC().Format("15:04:05")
	if days == 0 && !date04 {
		return clock, true
	}
	epoch := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	switch {
	case date04:
		epoch = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	case days == 60:
		return "", false
	case days < 60:
		days++
	}
	day := epoch.AddDate(0, 0, int(days)).Format(time.DateOnly)
	if rest == 0 {
		return day, true
	}
	return day + " " + clock, true
}

// numberText writes a number as a spreadsheet program shows it: at most 15
// significant digits, so that the last bits of a computed 3.2 do not show, and no
// exponent where a plain number will do. Whole numbers keep all their digits.
func numberText(x float64) string {
	if x == math.Trunc(x) && math.Abs(x) < 1<<53 {
		return strconv.FormatFloat(x+0, 'f', -1, 64)
	}
	short, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64)
	if err != nil {
		short = x
	}
	if a := math.Abs(short); a >= 1e-9 && a < 1e21 {
		return strconv.FormatFloat(short, 'f', -1, 64)
	}
	return strconv.FormatFloat(short, 'g', -1, 64)
}

// unescape undoes _xHHHH_, by which a workbook writes a character that XML cannot.
func unescape(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		if i+7 <= len(s) && s[i] == '_' && s[i+1] == 'x' && s[i+6] == '_' {
			if r, err := strconv.ParseUint(s[i+2:i+6], 16, 16); err == nil && r > 0 {
				b.WriteRune(rune(r))
				i += 7
				continue
			}
		}
		b.WriteByte(s[i])
		i++
	}
	return b.String()
}
