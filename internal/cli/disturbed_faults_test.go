//go:build faults

package cli

import (
	"bytes"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Moments are drawn from the seed: the same ones in every run, as far as a machine
// keeps time.
const (
	killSeed   = 20260
	kills      = 100
	interrupts = 40
)

// disturb starts the program and sends it a signal after a while. It reports false
// where the program had ended before.
func disturb(t *testing.T, cmd *exec.Cmd, after time.Duration, sig syscall.Signal) bool {
	t.Helper()
	require.NoError(t, cmd.Start())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = cmd.Wait() // the state of the process says it
	}()
	select {
	case <-ended:
		return false
	case <-time.After(after):
	}
	_ = cmd.Process.Signal(sig) // it may end this very moment
	select {
	case <-ended:
	case <-time.After(time.Minute):
		_ = cmd.Process.Kill()
		t.Fatalf("the program goes on for a minute after %v", sig)
	}
	return true
}

// job is a run that is disturbed: a load that is not yet in the store, or the undoing
// of one that is.
type job struct {
	name   string
	start  string // the store that it starts from
	takes  time.Duration
	args   []string
	before string // fingerprint
	after  string
}

func (k *known) jobs() []job {
	return []job{
		{"load", k.before, k.timeOfLoad, []string{"load", k.export}, k.printBefore, k.printAfter},
		{"undo", k.after, k.timeOfUndo, []string{"load", "--undo", "2"}, k.printAfter, k.printBefore},
	}
}

// killed kills loads and undoings at random moments with a signal that no program can
// catch. The store opens, is sound, and holds all of it or nothing. What a killed load
// leaves in the folder for temporary files, the next load takes away.
func (k *known) killed(t *testing.T) {
	r := rand.New(rand.NewPCG(killSeed, 0))
	for _, j := range k.jobs() {
		n := kills * 3 / 4
		if j.name == "undo" {
			n = kills - n
		}
		s := newSite(t, k.program, "")
		all, none, leftBehind := 0, 0, 0
		for i := 0; i < n; {
			s.reset(j.start)
			cmd, _ := s.command(j.args...)
			if !disturb(t, cmd, time.Duration(r.Float64()*1.05*float64(j.takes)), syscall.SIGKILL) || signalled(cmd) != syscall.SIGKILL {
				j.takes = j.takes * 19 / 20 // the machine is faster now than when it was timed
				continue
			}
			i++
			if len(s.left()) > 0 {
				leftBehind++
			}
			switch print, _ := s.print(); print {
			case j.before:
				none++
			case j.after:
				all++
			default:
				t.Fatalf("%s %d: the store holds neither all nor nothing", j.name, i)
			}
		}
		left := s.left()
		s.reset(k.before)
		require.NoError(t, os.Mkdir(s.store+".tmp", 0o700)) // what a killed process spills under a tight memory limit
		require.NoError(t, os.WriteFile(filepath.Join(s.store+".tmp", "duckdb_temp_storage_DEFAULT-0.tmp"), []byte("cells"), 0o600))
		code, said := s.run("load", k.export)
		require.Equal(t, ExitOK, code, said)
		assert.Empty(t, s.left(), "the next load clears what killed ones left: %v", left)
		t.Logf("%s killed %d times: %d times all was stored, %d times nothing; files left behind after %d kills, %d of them in the end", j.name, n, all, none, leftBehind, len(left))
		assert.Positive(t, none)
	}
}

// interrupted presses Ctrl-C at random moments. What the program says is true: after
// 130 nothing has changed, after 0 all is stored; and no temporary file stays.
func (k *known) interrupted(t *testing.T) {
	r := rand.New(rand.NewPCG(killSeed, 1))
	for _, j := range k.jobs() {
		s := newSite(t, k.program, "")
		stopped, stored, early := 0, 0, 0
		for i := 0; i < interrupts/2; {
			s.reset(j.start)
			cmd, said := s.command(j.args...)
			if !disturb(t, cmd, time.Duration(r.Float64()*1.05*float64(j.takes)), syscall.SIGINT) {
				j.takes = j.takes * 19 / 20
				continue
			}
			i++
			print, _ := s.print()
			switch code := cmd.ProcessState.ExitCode(); {
			case signalled(cmd) == syscall.SIGINT: // before the program listened; a shell says 130
				early++
				require.Equal(t, j.before, print, "%s %d", j.name, i)
			case code == ExitInterrupted:
				stopped++
				require.Equal(t, j.before, print, "%s %d said: %s", j.name, i, said)
				require.Contains(t, said.String(), "stopped; the store is as it was before")
			default:
				stored++
				require.Equal(t, ExitOK, code, said.String())
				require.Equal(t, j.after, print, "%s %d", j.name, i)
			}
			require.Empty(t, s.left(), "%s %d", j.name, i)
		}
		t.Logf("%s interrupted %d times: %d stopped with %d, %d went through, %d before the program listened", j.name, interrupts/2, stopped, ExitInterrupted, stored, early)
		assert.Positive(t, stopped)
	}
}

// readOnly loads into what must not be written: a file and a folder by their
// permissions, and a disk that nobody may write on, whatever his rights.
func (k *known) readOnly(t *testing.T) {
	s := newSite(t, k.program, k.before)
	refused := func(want string) {
		t.Helper()
		code, said := s.run("load", k.export)
		assert.Equal(t, ExitStore, code, said)
		assert.Contains(t, said, want)
		assert.Empty(t, s.left())
	}
	unchanged := func() {
		t.Helper()
		now, err := os.ReadFile(s.store)
		require.NoError(t, err)
		then, err := os.ReadFile(k.before)
		require.NoError(t, err)
		assert.True(t, bytes.Equal(then, now), "the store was changed")
	}
	require.NoError(t, os.Chmod(s.store, 0o444))
	refused("a.duckdb: is read-only: make it writable or name another file")
	unchanged()
	require.NoError(t, os.Chmod(s.store, 0o644))
	folder := filepath.Dir(s.store)
	require.NoError(t, os.Chmod(s.store, 0o666))
	require.NoError(t, os.Chmod(folder, 0o555))
	s.asNobody()
	refused("its folder " + folder + " is read-only: make it writable or choose another path")
	unchanged()
	s.nobody = false
	require.NoError(t, os.Chmod(folder, 0o755))
	require.NoError(t, syscall.Mount("tmpfs", folder, "tmpfs", 0, "size=32m"))
	defer func() { require.NoError(t, syscall.Unmount(folder, syscall.MNT_DETACH)) }()
	copyFile(t, k.before, s.store)
	require.NoError(t, syscall.Mount("tmpfs", folder, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, "size=32m"))
	refused("is read-only: make it writable or")
	unchanged()
	require.NoError(t, syscall.Mount("tmpfs", folder, "tmpfs", syscall.MS_REMOUNT, "size=32m"))
	require.NoError(t, os.Remove(s.store))
	require.NoError(t, syscall.Mount("tmpfs", folder, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, "size=32m"))
	refused("is read-only: make it writable or choose another path")
}

// secondWriter starts two loads into one store at the same moment, again and again:
// one of them loads, the other says who holds the store and what to do.
func (k *known) secondWriter(t *testing.T) {
	s := newSite(t, k.program, "")
	other := absolute(t, cleanExport)
	both, held := 0, 0
	for i := range 8 {
		s.reset(k.before)
		first, saidFirst := s.command("load", k.export)
		second, saidSecond := s.command("load", other)
		require.NoError(t, first.Start())
		time.Sleep(time.Duration(i) * k.timeOfLoad / 10)
		require.NoError(t, second.Start())
		_, _ = first.Wait(), second.Wait() // the exit codes are looked at below
		codes := []int{first.ProcessState.ExitCode(), second.ProcessState.ExitCode()}
		print, standing := s.print()
		said := saidFirst.String() + saidSecond.String()
		switch {
		case codes[0] == ExitOK && codes[1] == ExitOK: // one after the other
			both++
			require.Equal(t, k.printAfter, print)
		case codes[0] == ExitOK && codes[1] == ExitStore:
			held++
			require.Contains(t, said, "a.duckdb: is in use by process")
			require.Contains(t, said, "close that program and try again; one process at a time can open a store")
			require.Equal(t, k.printAfter, print)
			require.EqualValues(t, 2, standing)
		case codes[0] == ExitStore && codes[1] == ExitOK: // the clean bundle was there: nothing new
			held++
			require.Contains(t, said, "a.duckdb: is in use by process")
			require.Equal(t, k.printBefore, print)
		default:
			t.Fatalf("exit codes %v: %s", codes, said)
		}
		require.Empty(t, s.left())
	}
	t.Logf("two at once: %d times the other was told so, %d times they followed each other", held, both)
	assert.Positive(t, held)
}
