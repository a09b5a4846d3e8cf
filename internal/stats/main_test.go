package stats

import (
	"flag"
	"fmt"
	"os"
	"testing"
)

// TestMain fixes the seed of property tests, so that a run says the same tomorrow;
// -rapid.seed explores others.
func TestMain(m *testing.M) {
	flag.Parse()
	if f := flag.Lookup("rapid.seed"); f != nil && f.Value.String() == f.DefValue {
		if err := flag.Set("rapid.seed", "20261125"); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	os.Exit(m.Run())
}
