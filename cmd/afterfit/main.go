// Command afterfit links what was recorded for complete dentures to what came
// later. Everything it does is in internal/cli.
package main

import (
	"os"

	"afterfit/internal/cli"
)

func main() {
	os.Exit(cli.Main(os.Args[1:], os.Stdout, os.Stderr))
}
