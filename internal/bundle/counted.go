package bundle

import "fmt"

// Counted is a number with its noun, "1 case" or "2 cases".
func Counted[N int | int64](n N, one, many string) string {
	if n == 1 {
		many = one
	}
	return fmt.Sprintf("%d %s", n, many)
}
