//go:build faults

package cli

import (
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// slowest is within what a Ctrl-C must have ended the program: a second or so, with room
// for a machine that is busy with something else.
const slowest = 5 * time.Second

// interruptedPages presses Ctrl-C at random moments while pages come to be. The program
// ends at once with 130, a page that stood there is still the old one or wholly the new
// one, and no temporary file stays.
func (k *known) interruptedPages(t *testing.T) {
	r := rand.New(rand.NewPCG(killSeed, 2))
	for _, args := range [][]string{{"pack", "--out", "page.html"}, {"summary", "--out", "pages"}, {"demo", "pages", "--cases", "400"}} {
		s := newSite(t, k.program, k.before)
		page := filepath.Join(s.dir, args[2])
		if args[0] != "pack" {
			page = filepath.Join(s.dir, "pages", "index.html")
		}
		var code int
		var said string
		takes := timed(func() { code, said = s.run(args...) })
		require.Equal(t, ExitOK, code, said)
		stopped, early, longest := 0, 0, time.Duration(0)
		// Most of a short run may lie before the program listens, or after its pages are named.
		for i := 0; i < 5 || stopped < 2 && i < 60; {
			s.reset(k.before)
			require.NoError(t, os.MkdirAll(filepath.Dir(page), 0o755))
			require.NoError(t, os.WriteFile(page, []byte("an older page"), 0o600))
			after := time.Duration(r.Float64() * 0.95 * float64(takes))
			cmd, said := s.command(args...)
			began := time.Now()
			if !disturb(t, cmd, after, syscall.SIGINT) {
				takes = takes * 4 / 5 // the machine is faster now than when it was timed
				continue
			}
			i++
			longest = max(longest, time.Since(began)-after)
			text, err := os.ReadFile(page)
			require.NoError(t, err)
			whole := string(text) == "an older page" || strings.HasSuffix(strings.TrimSpace(string(text)), "</html>")
			assert.True(t, whole, "%v left half a page", args)
			switch code := cmd.ProcessState.ExitCode(); {
			case signalled(cmd) == syscall.SIGINT:
				early++
			case code == ExitInterrupted:
				stopped++
				assert.Contains(t, said.String(), "stopped")
			default:
				require.Equal(t, ExitOK, code, said.String())
			}
			assert.Empty(t, s.left(), "%v", args)
			assert.Empty(t, s.unfinished(), "%v", args)
		}
		t.Logf("%s: %d stopped with %d, %d before the program listened; the longest took %v to end", args[0], stopped, ExitInterrupted, early, longest.Round(time.Millisecond))
		assert.Greater(t, stopped, 1, args[0])
		assert.Less(t, longest, slowest, args[0])
	}
}

// unfinished lists files at the site that pages and exports are written to before they
// get their names.
func (s *site) unfinished() (list []string) {
	s.t.Helper()
	require.NoError(s.t, filepath.WalkDir(s.dir, func(path string, d fs.DirEntry, err error) error {
		if name := d.Name(); err == nil && (strings.HasPrefix(name, ".afterfit-") || strings.HasSuffix(name, ".part") || strings.HasSuffix(name, ".tmp")) {
			list = append(list, path)
		}
		return err
	}))
	return list
}
