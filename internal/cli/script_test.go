package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/spf13/cobra"
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
			return os.CopyFS(filepath.Join(env.WorkDir, "clean"), os.DirFS(clean))
		},
	})
}

// commands walks the command tree.
func commands(c *cobra.Command, visit func(*cobra.Command)) {
	visit(c)
	for _, sub := range c.Commands() {
		commands(sub, visit)
	}
}

// TestHelpExamplesRun runs every example that a help text shows, in a folder that
// holds what the examples name.
func TestHelpExamplesRun(t *testing.T) {
	dir := t.TempDir()
	clean, err := filepath.Abs("../../testdata/bundles/clean")
	require.NoError(t, err)
	require.NoError(t, os.CopyFS(filepath.Join(dir, "exports", "2026-06"), os.DirFS(clean)))
	t.Chdir(dir)
	require.Equal(t, ExitOK, run(t, "load exports/2026-06"), "the examples need a loaded store")
	ran := 0
	root := newRoot(&app{out: &bytes.Buffer{}, err: &bytes.Buffer{}})
	commands(root, func(c *cobra.Command) {
		for _, line := range strings.Split(c.Example, "\n") {
			line = strings.TrimSpace(line)
			if line == "" || c.Name() == "demo" || strings.Contains(line, "afterfit demo") {
				continue // the demo has a script of its own
			}
			line = strings.ReplaceAll(line, "D03", "C003")
			line, _, _ = strings.Cut(line, " > ")
			ran++
			assert.Equal(t, ExitOK, run(t, strings.TrimPrefix(line, "afterfit")), "example %q", line)
		}
		if c.Runnable() && c.Parent() == root && c.Name() != "completion" && c.Name() != "help" {
			assert.NotEmpty(t, c.Example, "%s shows no example", c.Name())
		}
	})
	assert.GreaterOrEqual(t, ran, 10)
}

func run(t *testing.T, line string) int {
	t.Helper()
	var out, errw bytes.Buffer
	code := Main(strings.Fields(line), &out, &errw)
	if code != ExitOK {
		t.Logf("%s: %s", line, errw.String())
	}
	return code
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

func TestDefuseStopsFormulas(t *testing.T) {
	for in, want := range map[string]string{
		"": "", "12": "12", "-3.5": "-3.5", "=1+1": "'=1+1", "+1": "'+1", "-1+cmd": "'-1+cmd", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx", "a=b": "a=b",
	} {
		assert.Equal(t, want, defuse(in))
	}
}
