//go:build rcheck

package stats

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestReferencesAreWhatRPrints reruns every stored R script and compares numbers to
// 1e-9 relative. Version strings may differ and are only shown.
func TestReferencesAreWhatRPrints(t *testing.T) {
	_, err := exec.LookPath("Rscript")
	require.NoError(t, err, "this check needs R")
	scripts := referenceNames(t, ".R")
	require.NotEmpty(t, scripts)
	require.ElementsMatch(t, scripts, referenceNames(t, ".json"), "a script without output or an output without script")
	for _, name := range scripts {
		t.Run(name, func(t *testing.T) {
			stored, err := os.ReadFile(filepath.Join(referenceFolder, name+".json"))
			require.NoError(t, err)
			for _, difference := range jsonDifferences(t, stored, runReference(t, name)) {
				t.Error(difference)
			}
		})
	}
}

func referenceNames(t *testing.T, suffix string) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(referenceFolder, "*"+suffix))
	require.NoError(t, err)
	for i, f := range files {
		files[i] = strings.TrimSuffix(filepath.Base(f), suffix)
	}
	return files
}

func runReference(t *testing.T, name string) []byte {
	t.Helper()
	cmd := exec.Command("Rscript", "--vanilla", name+".R")
	cmd.Dir = referenceFolder
	cmd.Env = append(os.Environ(), "TZ=UTC", "LC_ALL=C.UTF-8")
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	out, err := cmd.Output()
	require.NoError(t, err, "%s", &complaints)
	return out
}

func jsonDifferences(t *testing.T, stored, fresh []byte) []string {
	t.Helper()
	var a, b any
	require.NoError(t, json.Unmarshal(stored, &a))
	require.NoError(t, json.Unmarshal(fresh, &b))
	return appendDifferences(nil, "", a, b)
}

func appendDifferences(found []string, at string, want, got any) []string {
	switch w := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		if !ok || len(g) != len(w) {
			return append(found, at+": not the same fields")
		}
		for key := range w {
			found = appendDifferences(found, at+"/"+key, w[key], g[key])
		}
	case []any:
		g, ok := got.([]any)
		if !ok || len(g) != len(w) {
			return append(found, at+": not the same length")
		}
		for i := range w {
			found = appendDifferences(found, fmt.Sprintf("%s/%d", at, i), w[i], g[i])
		}
	case float64:
		if g, ok := got.(float64); !ok || !relative(g, w, 1e-9) {
			found = append(found, fmt.Sprintf("%s: stored %v, now %v", at, want, got))
		}
	case string:
		// Strings name versions, which another machine may have newer, or NA and Inf.
		if _, ok := got.(string); !ok {
			found = append(found, fmt.Sprintf("%s: stored %q, now %v", at, w, got))
		}
	default:
		if want != got {
			found = append(found, fmt.Sprintf("%s: stored %v, now %v", at, want, got))
		}
	}
	return found
}

func TestReferenceComparisonSeesDifferences(t *testing.T) {
	for _, c := range []struct {
		stored, fresh string
		differences   int
	}{
		{`{"a":[1,2,null]}`, `{"a":[1,2.000000000001,null]}`, 0},
		{`{"a":[1,2]}`, `{"a":[1,2.00001]}`, 1},
		{`{"a":[1,2]}`, `{"a":[1]}`, 1},
		{`{"a":1}`, `{"b":1}`, 1},
		{`{"a":1e-12}`, `{"a":2e-12}`, 1},
		{`{"a":1}`, `{"a":null}`, 1},
		{`{"a":"NA"}`, `{"a":1}`, 1},
	} {
		require.Len(t, jsonDifferences(t, []byte(c.stored), []byte(c.fresh)), c.differences, "%s %s", c.stored, c.fresh)
	}
}
