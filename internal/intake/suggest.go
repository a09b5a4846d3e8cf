package intake

import (
	"fmt"
	"strings"

	"afterfit/internal/mapping"
)

// suggest names the candidate nearest to name in a remedy of the form close, or
// gives the remedy none where nothing is near.
func suggest(name string, candidates []string, near, none string) string {
	best, bestAt := "", 1<<30
	for _, c := range candidates {
		if d := mapping.Edits([]byte(plain(name)), []byte(plain(c))); d < bestAt {
			best, bestAt = c, d
		}
	}
	if best == "" || bestAt > max(2, len(best)/3) {
		return none
	}
	return fmt.Sprintf("did you mean %s? %s, or %s", best, fmt.Sprintf(near, best), none)
}

// plain drops what people vary when they rename: case, blanks, dashes, the unit.
func plain(s string) string {
	s = strings.NewReplacer(" ", "", "-", "", "_", "").Replace(strings.ToLower(s))
	return strings.TrimSuffix(s, "mm")
}
