//go:build slow

package cli

import "testing"

// TestSlowScripts runs the scripts that take several seconds each.
func TestSlowScripts(t *testing.T) { runScripts(t, "testdata/slow") }
