//go:build slow

package intake

import "testing"

// TestEveryOddCellInEveryColumn is TestSoundRowsAreThoseThatTheRulesLetThrough with all
// odd cells in all columns.
func TestEveryOddCellInEveryColumn(t *testing.T) { soundRows(t, 1) }
