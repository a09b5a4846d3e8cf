package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"afterfit": func() { os.Exit(Main(os.Args[1:], os.Stdout, os.Stderr)) },
	})
}

// exits runs a command and checks its exit code: `exits CODE afterfit ARGS...`.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND ARGS...")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := "0"
	if err != nil {
		got = strings.TrimPrefix(err.Error(), "exit status ")
	}
	if got != args[0] {
		ts.Fatalf("exit code %s, want %s", got, args[0])
	}
}

func TestScripts(t *testing.T) { runScripts(t, "testdata/script") }

// runScripts runs every script of a folder, each beside a copy of the clean bundle.
func runScripts(t *testing.T, dir string) {
	t.Helper()
	clean, err := filepath.Abs("../../testdata/bundles/clean")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
		Setup: func(env *testscript.Env) error {
			env.Setenv("CLEAN", clean)
			env.Setenv("MAPPINGS", filepath.Join(filepath.Dir(filepath.Dir(clean)), "mappings"))
			return os.CopyFS(filepath.Join(env.WorkDir, "clean"), os.DirFS(clean))
		},
	})
}

// TestSettingsNameTheMistake holds the strictness of the settings file.
func TestSettingsNameTheMistake(t *testing.T) {
	for name, c := range map[string]struct{ toml, want string }{
		"unknown key": {"thread = 2\n", "thread"},
		"wrong type":  {"threads = \"two\"\n", "line 1, column"},
		"no TOML":     {"threads = \n", "line 1, column"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "s.toml")
			require.NoError(t, os.WriteFile(path, []byte(c.toml), 0o600))
			_, err := (&app{settingsPath: path}).settings()
			require.Error(t, err)
			assert.Equal(t, ExitUsage, exitCode(err))
			assert.Contains(t, err.Error(), c.want)
			assert.Contains(t, err.Error(), path)
		})
	}
}
