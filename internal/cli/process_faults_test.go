//go:build faults

package cli

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// These tests run the program itself as a process of its own and do to it what
// happens to programs.

const cleanExport = "../../testdata/bundles/clean"

// site is a folder with a store, and a folder for temporary files beside it.
type site struct {
	t                         *testing.T
	dir, store, temp, program string
	nobody                    bool // the program runs as a user without rights
}

// newSite makes a site; before, if not "", is the store that it starts with.
func newSite(t *testing.T, program, before string) *site {
	t.Helper()
	s := &site{t: t, dir: t.TempDir(), program: program}
	s.store, s.temp = filepath.Join(s.dir, "store", "a.duckdb"), filepath.Join(s.dir, "temp")
	require.NoError(t, os.Mkdir(filepath.Dir(s.store), 0o755))
	require.NoError(t, os.Mkdir(s.temp, 0o777))
	if before != "" {
		s.reset(before)
	}
	return s
}

// reset puts a copy of a store in the site's place, and nothing beside it.
func (s *site) reset(before string) {
	s.t.Helper()
	require.NoError(s.t, os.RemoveAll(filepath.Dir(s.store)))
	require.NoError(s.t, os.Mkdir(filepath.Dir(s.store), 0o755))
	copyFile(s.t, before, s.store)
}

// command makes a run of the program at the site.
func (s *site) command(args ...string) (*exec.Cmd, *bytes.Buffer) {
	s.t.Helper()
	cmd := exec.Command(s.program, append([]string{"--store", s.store, "--quiet", "--threads", "1"}, args...)...)
	cmd.Dir = s.dir
	cmd.Env = append(os.Environ(), "TMPDIR="+s.temp)
	if s.nobody {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobodyID, Gid: nobodyID}}
	}
	var said bytes.Buffer
	cmd.Stderr = &said
	return cmd, &said
}

const nobodyID = 65534

// asNobody lets the program run as a user without rights, who may reach the site, the
// program and the exports, and write where anyone may.
func (s *site) asNobody() {
	s.t.Helper()
	s.nobody = true
	require.NoError(s.t, os.Chmod(s.temp, 0o777))
	for _, path := range []string{s.dir, s.program} {
		for at := path; at != os.TempDir() && at != "/"; at = filepath.Dir(at) {
			require.NoError(s.t, os.Chmod(at, 0o755))
		}
	}
}

// run runs the program to its end and returns its exit code and what it said.
func (s *site) run(args ...string) (int, string) {
	s.t.Helper()
	cmd, said := s.command(args...)
	err := cmd.Run()
	var failed *exec.ExitError
	if err != nil && !errors.As(err, &failed) {
		require.NoError(s.t, err)
	}
	return cmd.ProcessState.ExitCode(), said.String()
}

// print opens the store, recounts it and returns the fingerprint of its content and
// how many loads stand.
func (s *site) print() (string, int64) {
	s.t.Helper()
	ctx := context.Background()
	st, err := store.Open(ctx, s.store, store.Options{Threads: 1})
	require.NoError(s.t, err)
	rep, err := st.Verify(ctx)
	require.NoError(s.t, err)
	require.Empty(s.t, rep.Problems)
	require.NoError(s.t, st.Close())
	return rep.Fingerprint, rep.Loads - rep.Undone
}

// left lists what stands in the folder for temporary files, and beside the store.
func (s *site) left() (list []string) {
	s.t.Helper()
	for _, dir := range []string{s.temp, filepath.Dir(s.store)} {
		require.NoError(s.t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() && path != s.store && path != s.store+".wal" {
				list = append(list, strings.TrimPrefix(path, s.dir))
			}
			return err
		}))
	}
	return list
}

// known is what the store may hold: the content before or after a load, and how many
// loads stand then.
type known struct {
	program, export         string
	before, after           string // copies of the store
	printBefore, printAfter string
	timeOfLoad, timeOfUndo  time.Duration
}

// TestFaultsOfAProcess builds the program, and what the store may hold before and
// after one load: the clean bundle, and a newer export in which cases have changed.
func TestFaultsOfAProcess(t *testing.T) {
	k := &known{program: filepath.Join(t.TempDir(), "afterfit"), export: newerExport(t)}
	out, err := exec.Command("go", "build", "-o", k.program, "../../cmd/afterfit").CombinedOutput()
	require.NoError(t, err, string(out))
	s := newSite(t, k.program, "")
	code, said := s.run("load", absolute(t, cleanExport))
	require.Equal(t, ExitOK, code, said)
	k.before, k.after = filepath.Join(s.dir, "before"), filepath.Join(s.dir, "after")
	copyFile(t, s.store, k.before)
	k.printBefore, _ = s.print()
	k.timeOfLoad = timed(func() { code, said = s.run("load", k.export) })
	require.Equal(t, ExitOK, code, said)
	copyFile(t, s.store, k.after)
	k.printAfter, _ = s.print()
	require.NotEqual(t, k.printBefore, k.printAfter)
	k.timeOfUndo = timed(func() { code, said = s.run("load", "--undo", "2") })
	require.Equal(t, ExitOK, code, said)
	print, standing := s.print()
	require.Equal(t, k.printBefore, print)
	require.EqualValues(t, 1, standing)
	t.Logf("a load takes %v, undoing it %v", k.timeOfLoad.Round(time.Millisecond), k.timeOfUndo.Round(time.Millisecond))
	t.Run("killed", k.killed)
	t.Run("killed while rows are set aside", k.asideKilled)
	t.Run("interrupted", k.interrupted)
	t.Run("interrupted pages", k.interruptedPages)
	t.Run("read-only", k.readOnly)
	t.Run("second writer", k.secondWriter)
	t.Run("damaged", k.damaged)
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	content, err := os.ReadFile(from)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(to, content, 0o644))
}

func timed(f func()) time.Duration {
	began := time.Now()
	f()
	return time.Since(began)
}

func absolute(t *testing.T, path string) string {
	t.Helper()
	abs, err := filepath.Abs(path)
	require.NoError(t, err)
	return abs
}

// newerExport is the clean bundle with another site for many of its cases, and a
// blank line, for which a load makes a private copy without it.
func newerExport(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "newer")
	require.NoError(t, os.CopyFS(dir, os.DirFS(cleanExport)))
	path := filepath.Join(dir, "cases.csv")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := strings.Split(string(text), "\n")
	for i := 1; i < len(lines); i += 2 {
		lines[i] = strings.Replace(lines[i], ",S1,", ",S9,", 1)
	}
	lines = append(lines[:2:2], append([]string{""}, lines[2:]...)...) // a blank line: the load makes a copy without it
	require.NoError(t, os.WriteFile(path, []byte(strings.Join(lines, "\n")), 0o600))
	return dir
}

// signalled is the signal that ended a process, 0 if none did.
func signalled(cmd *exec.Cmd) syscall.Signal {
	if ws, ok := cmd.ProcessState.Sys().(syscall.WaitStatus); ok && ws.Signaled() {
		return ws.Signal()
	}
	return 0
}
