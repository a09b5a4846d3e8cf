//go:build faults

package cli

import (
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

// asideKills is how often a load that writes its rows set aside is killed.
const asideKills = 20

// asideKilled kills a load with --set-aside at random moments. The rows set aside stand
// at their place whole, and only where the load is stored, or not at all; and the next
// load takes away what was written of them.
func (k *known) asideKilled(t *testing.T) {
	export := filepath.Join(t.TempDir(), "faulty")
	require.NoError(t, os.CopyFS(export, os.DirFS(k.export)))
	path := filepath.Join(export, "cases.csv")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := strings.Split(string(text), "\n")
	for i := 10; i < 20; i++ {
		lines[i] = strings.NewReplacer(",female,", ",FEMALE,", ",male,", ",MALE,").Replace(lines[i])
	}
	require.NoError(t, os.WriteFile(path, []byte(strings.Join(lines, "\n")), 0o600))
	s := newSite(t, k.program, k.before)
	out := filepath.Join(s.dir, "out")
	require.NoError(t, os.Mkdir(out, 0o755))
	place := filepath.Join(out, "aside")
	code, said := 0, ""
	takes := timed(func() { code, said = s.run("load", export, "--set-aside-limit", "1", "--set-aside", place) })
	require.Equal(t, ExitOK, code, said)
	whole, after := contents(t, place), ""
	require.Greater(t, len(whole), 6, "cases, what hangs on them, and the note: %v", whole)
	after, _ = s.print()
	r := rand.New(rand.NewPCG(killSeed, 2))
	written, left := 0, 0
	for i := 0; i < asideKills; {
		s.reset(k.before)
		require.NoError(t, os.RemoveAll(place))
		cmd, _ := s.command("load", export, "--set-aside-limit", "1", "--set-aside", place)
		if !disturb(t, cmd, time.Duration((0.5+0.55*r.Float64())*float64(takes)), syscall.SIGKILL) || signalled(cmd) != syscall.SIGKILL {
			takes = takes * 19 / 20 // the machine is faster now than when it was timed
			continue
		}
		i++
		print, _ := s.print()
		require.Contains(t, []string{k.printBefore, after}, print, "all is stored or nothing")
		if _, err := os.Stat(place); err == nil {
			written++
			assert.Equal(t, whole, contents(t, place))
			assert.Equal(t, after, print, "rows set aside stand there of a load that is stored")
		}
		if parts, err := filepath.Glob(filepath.Join(out, ".afterfit-aside-*")); err == nil && len(parts) > 0 {
			left++
		}
	}
	s.reset(k.before)
	require.NoError(t, os.RemoveAll(place))
	code, said = s.run("load", export, "--set-aside-limit", "1", "--set-aside", place)
	require.Equal(t, ExitOK, code, said)
	entries, err := os.ReadDir(out)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "what killed loads wrote is taken away")
	assert.Equal(t, whole, contents(t, place))
	t.Logf("killed %d times: rows set aside at their place %d times, parts left %d times", asideKills, written, left)
}

// contents reads the files of a folder.
func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		require.NoError(t, err)
		all[e.Name()] = string(text)
	}
	return all
}
