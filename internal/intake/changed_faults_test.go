//go:build faults

package intake

import (
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// ways are what another program does to a file that is being read.
var ways = map[string]func(t *testing.T, path string){
	"rewritten": func(t *testing.T, path string) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		for i := range text {
			if text[i] == '1' {
				text[i] = '2'
			}
		}
		require.NoError(t, os.WriteFile(path, text, 0o600))
	},
	"cut short": func(t *testing.T, path string) {
		info, err := os.Stat(path)
		require.NoError(t, err)
		require.NoError(t, os.Truncate(path, info.Size()/2))
	},
	"grown": func(t *testing.T, path string) {
		f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
		require.NoError(t, err)
		_, err = f.WriteString("V9,K1,50,,no,\n")
		require.NoError(t, err)
		require.NoError(t, f.Close())
	},
	"replaced": func(t *testing.T, path string) {
		require.NoError(t, os.WriteFile(path+".new", []byte("other"), 0o600))
		require.NoError(t, os.Rename(path+".new", path))
	},
	"taken away": func(t *testing.T, path string) { require.NoError(t, os.Remove(path)) },
}

// TestChangedSource changes a file of an export between the look through it and
// its reading, in every shape that a bundle comes in. The load is refused with the
// file's name, and the store is as it was.
func TestChangedSource(t *testing.T) {
	bundle := withVisitTwice(t)
	paths := shapesOf(t, bundle)
	plain, copied := write(t, bundle), write(t, withBlank(bundle))
	for _, c := range []struct {
		shape, path, file string
		stage             string // the file is changed before this step
		table             int64  // of this table
	}{
		{"folder", plain, "visits.csv", "typing", 5},
		{"folder, cases", plain, "cases.csv", "typing", 0},
		{"folder, behind its reading", plain, "cases.csv", "typing", 7},
		{"folder with a rewritten copy", copied, "visits.csv", "typing", 5},
		{"workbook", paths["workbook"], "", "reading", 5},
		{"workbook, behind its reading", paths["workbook"], "", "typing", 7},
		{"parquet", paths["parquet"], "visits.parquet", "typing", 5},
		{"gzip, behind its reading", paths["gzip"], "visits.csv.gz", "typing", 5},
		{"zip, behind its reading", paths["zip"], "", "typing", 5},
	} {
		for way, change := range ways {
			t.Run(c.shape+" "+way, func(t *testing.T) {
				st := newStore(t)
				load(t, st, small)
				before := state(t, st)
				path := filepath.Join(t.TempDir(), filepath.Base(c.path))
				target := filepath.Join(path, c.file)
				if c.file == "" {
					content, err := os.ReadFile(c.path)
					require.NoError(t, err)
					require.NoError(t, os.WriteFile(path, content, 0o600))
				} else {
					require.NoError(t, os.CopyFS(path, os.DirFS(c.path)))
				}
				changed, calls := false, int64(-1)
				_, err := Load(context.Background(), st, path, LoadOptions{SetAsideLimit: 1, Progress: func(stage string, _, _ int64) {
					if stage != c.stage {
						return
					}
					if calls++; calls == c.table { // it is told once for each table, in their order
						changed = true
						change(t, target)
					}
				}})
				require.True(t, changed, "the test changes nothing")
				require.ErrorIs(t, err, ErrBadData)
				assert.ErrorContains(t, err, filepath.Base(target))
				assert.ErrorContains(t, err, "found a file that changed while it was read: wait until the export is written, then load it again")
				assert.Equal(t, before, state(t, st))
			})
		}
	}
}

// TestChangedBeforeItIsStored changes what is read last into an empty store: the rows that
// are sound for certain, and what the export and the mapping say of it.
func TestChangedBeforeItIsStored(t *testing.T) {
	noted := withVisitTwice(t)
	noted[noteFile] = mutantNote
	for _, file := range []string{"visits.csv", noteFile, "cases.csv"} {
		for way, change := range ways {
			t.Run(file+" "+way, func(t *testing.T) {
				st, path := newStore(t), write(t, noted)
				before, calls := state(t, st), 0
				_, err := Load(context.Background(), st, path, LoadOptions{Progress: func(stage string, _, _ int64) {
					if stage == "storing" {
						if calls++; calls == 1 {
							change(t, filepath.Join(path, file))
						}
					}
				}})
				require.Positive(t, calls)
				require.ErrorIs(t, err, ErrBadData)
				assert.ErrorContains(t, err, file+": found a file that changed while it was read")
				assert.Equal(t, before, state(t, st))
			})
		}
	}
	for way, change := range ways {
		t.Run("mapping "+way, func(t *testing.T) {
			st := newStore(t)
			export, mapping := writeForeign(t, foreignCases, foreignMapping, nil)
			before, changed := state(t, st), false
			_, err := Load(context.Background(), st, export, LoadOptions{Mapping: mapping, Progress: func(stage string, _, _ int64) {
				if stage == "turning" && !changed {
					changed = true
					change(t, mapping)
				}
			}})
			require.True(t, changed)
			require.Error(t, err)
			assert.ErrorContains(t, err, "list.toml: found a file that changed while it was read")
			assert.Equal(t, before, state(t, st))
		})
		t.Run("export behind its turning "+way, func(t *testing.T) {
			st := newStore(t)
			export, mapping := writeForeign(t, foreignCases, foreignMapping, nil)
			before, calls := state(t, st), 0
			_, err := Load(context.Background(), st, export, LoadOptions{Mapping: mapping, Progress: func(stage string, _, _ int64) {
				if stage == "storing" {
					if calls++; calls == 1 {
						change(t, filepath.Join(export, "list.csv"))
					}
				}
			}})
			require.Positive(t, calls)
			require.ErrorIs(t, err, ErrBadData)
			assert.ErrorContains(t, err, "list.csv: found a file that changed while it was read")
			assert.Equal(t, before, state(t, st))
		})
	}
}

func withVisitTwice(t *testing.T) map[string]string {
	return with(t, "visits.csv", "V2,K1,40,,no,\n", "V2,K1,40,,no,\nV3,K2,41,,no,\n")
}

// withBlank puts blank lines into the visits, for which a load makes a copy of its own.
func withBlank(files map[string]string) map[string]string {
	out := map[string]string{}
	for name, text := range files {
		out[name] = text
	}
	out["visits.csv"] = strings.Replace(out["visits.csv"], "\n", "\n\n", 1)
	return out
}

// TestGrowingSource loads exports that another program is still writing, a line
// every millisecond: plain bundles and exports that a mapping turns.
func TestGrowingSource(t *testing.T) {
	for _, form := range []string{"bundle", "bundle.gz", "comma", "semicolon", "tab", "utf-16", "latin-1", "xlsx", "ndjson"} {
		t.Run(form, func(t *testing.T) {
			st := newStore(t)
			load(t, st, small)
			before := state(t, st)
			m := sound(form)
			for range 20_000 { // so that reading it takes longer than the ticks of the clock that files are stamped by
				m.grids["visits"] = append(m.grids["visits"], m.grids["visits"][1])
			}
			m.write(t, rand.New(rand.NewPCG(1, 1)), t.TempDir())
			target := m.path
			if form != "xlsx" {
				target = filepath.Join(m.path, "visits"+m.ending())
			}
			stop, stopped := make(chan struct{}), make(chan error, 1)
			go func() { stopped <- keepWriting(target, stop) }()
			time.Sleep(3 * time.Millisecond)
			_, err := Load(context.Background(), st, m.path, LoadOptions{Mapping: m.mapping, SetAsideLimit: 1})
			close(stop)
			require.NoError(t, <-stopped)
			require.ErrorIs(t, err, ErrBadData)
			assert.ErrorContains(t, err, filepath.Base(target))
			assert.ErrorContains(t, err, "found a file that changed while it was read")
			assert.Equal(t, before, state(t, st))
		})
	}
}

// keepWriting touches a file every millisecond as a writer does, at most for a minute.
func keepWriting(path string, stop chan struct{}) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	first := make([]byte, 1)
	in, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	first[0] = in[0]
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(time.Millisecond) {
		select {
		case <-stop:
			return f.Close()
		default:
		}
		if _, err := f.WriteAt(first, 0); err != nil { // the same byte again: a new time of change
			return err
		}
	}
	return f.Close()
}

// TestFullDiskOfTemporaryFiles fills the disk that the private copies go to.
func TestFullDiskOfTemporaryFiles(t *testing.T) {
	disk := t.TempDir()
	require.NoError(t, syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=1m"))
	defer func() { require.NoError(t, syscall.Unmount(disk, syscall.MNT_DETACH)) }()
	st := newStore(t)
	load(t, st, small)
	before := state(t, st)
	fill(t, filepath.Join(disk, "ballast"))
	for _, form := range []string{"bundle", "bundle.gz", "bundle.xlsx", "semicolon", "utf-16", "xlsx", "ndjson"} {
		m := soundExport(t, form, t.TempDir())
		if form == "bundle" { // a blank line, for which a copy is made
			require.NoError(t, os.WriteFile(filepath.Join(m.path, "visits.csv"), []byte(withBlank(small)["visits.csv"]), 0o600))
		}
		_, err := Load(context.Background(), st, m.path, LoadOptions{Mapping: m.mapping, TempDir: disk, SetAsideLimit: 1})
		require.Error(t, err, form)
		assert.ErrorIs(t, err, store.ErrUse, "%s: %v", form, err)
		assert.ErrorContains(t, err, disk+", the folder for temporary files, is on a full disk: make room there, or name another folder in TMPDIR; nothing was stored", form)
		assert.Equal(t, before, state(t, st), form)
		left, err := filepath.Glob(filepath.Join(disk, "afterfit*"))
		require.NoError(t, err)
		assert.Empty(t, left, form)
	}
}

// TestFullDiskOfAMappedLoad fills the disk under the store that a mapped load goes to.
func TestFullDiskOfAMappedLoad(t *testing.T) {
	_, _, again := loadOnFullDisk(t, mappings+"a_clinic_export", LoadOptions{Mapping: mappings + "a_clinic.toml"})
	require.NoError(t, again.Close())
}
