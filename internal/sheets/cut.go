package sheets

import "bytes"

// What can be malformed in a record of delimited text. Unclosed is the only one
// after which the rest of the file cannot be trusted.
const (
	Unclosed   = "an unclosed quote"
	LoneReturn = "a lone carriage return"
	AfterQuote = "text after a closing quote"
	InnerQuote = "a quote inside a cell"
)

// Record is one record of delimited text, as cut from a slice of it.
type Record struct {
	From, To int    // without its line end
	Next     int    // where the next record starts
	Lines    int64  // line feeds passed, the last line counted
	Cells    int    // 1 for an empty record
	Fault    string // what is malformed in it, "" if nothing
	Ended    bool   // a line feed ended it, not the end of the data
	Return   bool   // and a carriage return stood before that
}

// Cut cuts the record that starts at from. Cells are separated by delim (0 = one
// cell). A quote opens a cell only at its start and closes it only at its end; ""
// inside is one quote. Without a quote in the line that is a search for the line's
// end; with one the cells are walked.
func Cut(data []byte, from int, delim byte) Record {
	r := Record{From: from, To: len(data), Next: len(data), Lines: 1}
	if end := bytes.IndexByte(data[from:], '\n'); end >= 0 {
		r.To, r.Next, r.Ended = from+end, from+end+1, true
	}
	if bytes.IndexByte(data[from:r.To], '"') < 0 {
		r.Cells = 1
		if delim != 0 {
			r.Cells += bytes.Count(data[from:r.To], []byte{delim})
		}
		r.cutReturn(data)
		if bytes.IndexByte(data[r.From:r.To], '\r') >= 0 {
			r.Fault = LoneReturn
		}
		return r
	}
	r.walk(data, delim)
	r.cutReturn(data)
	return r
}

// cutReturn takes the carriage return of a line end off the record.
func (r *Record) cutReturn(data []byte) {
	if r.Ended && r.To > r.From && data[r.To-1] == '\r' {
		r.To--
		r.Return = true
	}
}

// walk cuts a record that holds quotes.
func (r *Record) walk(data []byte, delim byte) {
	i := r.From
	r.Cells = 1
	for i < len(data) {
		if data[i] == '"' {
			if i = r.quoted(data, i); i < 0 {
				r.Fault, r.To, r.Next, r.Ended = Unclosed, len(data), len(data), false
				return
			}
			if i < len(data) && (data[i] != delim || delim == 0) && data[i] != '\n' && !lineEnd(data[i:]) {
				r.Fault = AfterQuote
			}
		}
		i = r.plain(data, i, delim)
		if i == len(data) || data[i] == '\n' {
			break
		}
		r.Cells++
		i++
	}
	r.To, r.Next, r.Ended = i, min(i+1, len(data)), i < len(data)
}

// lineEnd reports a carriage return that ends a line or the data.
func lineEnd(data []byte) bool {
	return data[0] == '\r' && (len(data) == 1 || data[1] == '\n')
}

// plain returns where the unquoted stretch at i ends: at a delimiter, a line feed
// or the end of the data.
func (r *Record) plain(data []byte, i int, delim byte) int {
	for i < len(data) && (data[i] != delim || delim == 0) && data[i] != '\n' {
		if data[i] == '"' && r.Fault == "" {
			r.Fault = InnerQuote
		}
		if data[i] == '\r' && r.Fault == "" && i+1 < len(data) && data[i+1] != '\n' {
			r.Fault = LoneReturn
		}
		i++
	}
	return i
}

// quoted returns where the quoted cell that opens at i is closed, -1 if nowhere.
func (r *Record) quoted(data []byte, i int) int {
	for i++; i < len(data); i++ {
		switch data[i] {
		case '\n':
			r.Lines++
		case '"':
			if i+1 == len(data) || data[i+1] != '"' {
				return i + 1
			}
			i++
		}
	}
	return -1
}

// split appends the cells of a record that Cut found whole to dst.
func split(text []byte, delim byte, dst []string) []string {
	for {
		if len(text) > 0 && text[0] == '"' {
			cell, rest := unquote(text[1:])
			dst = append(dst, cell)
			if len(rest) == 0 || rest[0] == '\r' {
				return dst
			}
			text = rest[1:]
			continue
		}
		at := -1
		if delim != 0 {
			at = bytes.IndexByte(text, delim)
		}
		if at < 0 {
			return append(dst, string(text))
		}
		dst = append(dst, string(text[:at]))
		text = text[at+1:]
	}
}

// unquote reads a quoted cell up to its closing quote.
func unquote(text []byte) (cell string, rest []byte) {
	var out []byte
	for {
		at := bytes.IndexByte(text, '"')
		if at < 0 {
			return string(append(out, text...)), nil
		}
		out = append(out, text[:at]...)
		text = text[at+1:]
		if len(text) == 0 || text[0] != '"' {
			return string(out), text
		}
		out = append(out, '"')
		text = text[1:]
	}
}

// SplitBytes appends the cells of a record that Cut found whole to dst. They are lent:
// all but those with a quote inside are parts of text.
func SplitBytes(text []byte, delim byte, dst [][]byte) [][]byte {
	if bytes.IndexByte(text, '"') < 0 {
		for {
			at := bytes.IndexByte(text, delim)
			if at < 0 {
				return append(dst, text)
			}
			dst = append(dst, text[:at])
			text = text[at+1:]
		}
	}
	for {
		if len(text) > 0 && text[0] == '"' {
			end := bytes.IndexByte(text[1:], '"') + 1
			if end > 0 && (end+1 == len(text) || text[end+1] == delim) {
				dst = append(dst, text[1:end])
				text = text[end+1:]
			} else {
				cell, rest := unquote(text[1:])
				dst = append(dst, []byte(cell))
				text = rest
			}
			if len(text) == 0 || text[0] == '\r' {
				return dst
			}
			text = text[1:]
			continue
		}
		at := bytes.IndexByte(text, delim)
		if at < 0 {
			return append(dst, text)
		}
		dst = append(dst, text[:at])
		text = text[at+1:]
	}
}
