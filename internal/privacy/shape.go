package privacy

// Shapes of UUIDs (RFC 9562), which no other value has. Each UUID would otherwise have a
// shape of its own.
const (
	// drawnUUID is that of versions 1, 4, 6 and 7: drawn at random, or from a clock.
	drawnUUID = "hhhhhhhh-hhhh-hhhh-hhhh-hhhhhhhhhhhh"
	// madeUUID is that of all others: made from a name by MD5 or SHA-1 (versions 3 and 5), or
	// something else in the form of a UUID, most likely a digest.
	madeUUID = "mmmmmmmm-mmmm-mmmm-mmmm-mmmmmmmmmmmm"
)

// uuidShape is the shape of a UUID, "" where text is none.
func uuidShape[T string | []byte](text T) string {
	if len(text) != len(drawnUUID) {
		return ""
	}
	for i := range len(text) {
		switch b := text[i]; {
		case i == 8 || i == 13 || i == 18 || i == 23:
			if b != '-' {
				return ""
			}
		case b >= '0' && b <= '9', b >= 'a' && b <= 'f', b >= 'A' && b <= 'F':
		default:
			return ""
		}
	}
	switch text[14] {
	case '1', '4', '6', '7':
	default:
		return madeUUID
	}
	switch text[19] {
	case '8', '9', 'a', 'b', 'A', 'B':
		return drawnUUID
	}
	return madeUUID
}

// shapeByte is what the shape of a value has for each byte.
var shapeByte = func() (of [256]byte) {
	for i := range of {
		b := byte(i) //nolint:gosec // below 256
		switch {
		case b >= '0' && b <= '9':
			b = '9'
		case b >= 'a' && b <= 'z':
			b = 'a'
		case b >= 'A' && b <= 'Z':
			b = 'A'
		}
		of[i] = b
	}
	return of
}()

// AppendShape appends the shape of a value, as Span has it.
func AppendShape(shape, text []byte) []byte {
	if of := uuidShape(text); of != "" {
		return append(shape, of...)
	}
	if isToken(text) {
		for range text {
			shape = append(shape, tokenByte)
		}
		return shape
	}
	for _, b := range text {
		shape = append(shape, shapeByte[b])
	}
	return shape
}

// ShapeSQL is the SQL that writes the shape of x as AppendShape does. Letter by letter in
// one pass: it is asked of every distinct key of an export.
var ShapeSQL = func() string {
	const plain = "translate(x, '012345678abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ', '999999999aaaaaaaaaaaaaaaaaaaaaaaaaaAAAAAAAAAAAAAAAAAAAAAAAAAA')"
	return "CASE WHEN length(x) = 36 AND regexp_full_match(x, '[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}') " +
		"THEN CASE WHEN regexp_full_match(x, '.{14}[1467].{4}[89abAB].{16}') THEN '" + drawnUUID + "' ELSE '" + madeUUID + "' END " +
		"WHEN " + tokenSQL(plain) + " THEN repeat('" + string(tokenByte) + "', length(x)) ELSE " + plain + " END"
}()
