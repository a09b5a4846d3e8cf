// Command afterfit links what was recorded for complete dentures to what came
// later. Everything it does is in internal/cli.
package main

import (
	"os"
	"runtime/debug"

	"afterfit/internal/cli"
)

func main() {
	// What fills memory are columns of numbers, which cost nothing to look through: collecting
	// at two fifths of the usual growth takes a third off the most that is held.
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(40)
	}
	os.Exit(cli.Main(os.Args[1:], os.Stdout, os.Stderr))
}
