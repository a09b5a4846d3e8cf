package wording

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// use is one place that asks for messages: a key, or a pattern with a star.
type use struct {
	at, key string
	names   []string
	open    bool // the names are those that the function has at hand: each need not be used
}

// speakers are the packages whose code asks for messages.
var speakers = []string{"page", "chart", "habit"}

// helpers hand a key on that their callers give, who are looked at instead.
var helpers = []string{"or", "defined", "columns", "Named", "Period", "text"}

// Every key that code or template asks for exists, every message is asked for, and both
// agree on the names of the arguments.
func TestCodeAndCatalogueAgree(t *testing.T) {
	c := English()
	used := map[string]bool{}
	all := append(usesInCode(t), usesInTemplates(t)...)
	require.Greater(t, len(all), 500, "the walk sees the code")
	for _, u := range all {
		keys := matching(c, u.key)
		if !assert.NotEmpty(t, keys, "%s: the catalogue has no %q", u.at, u.key) {
			continue
		}
		taken := map[string]bool{}
		for _, k := range keys {
			used[k] = true
			for _, name := range c.Arguments(k) {
				taken[name] = true
				assert.Contains(t, u.names, name, "%s: %s takes {%s}, which is not given", u.at, k, name)
			}
		}
		for _, name := range u.names {
			assert.True(t, u.open || taken[name], "%s: %s does not take {%s}", u.at, u.key, name)
		}
	}
	for _, k := range c.Keys() {
		assert.True(t, used[k] || strings.HasPrefix(k, "date.") || strings.HasPrefix(k, "finding."), "nothing asks for %s", k)
	}
}

func matching(c *Catalogue, pattern string) []string {
	if !strings.Contains(pattern, "*") {
		if _, _, ok := c.find(pattern); ok {
			return []string{pattern}
		}
		return nil
	}
	before, after, _ := strings.Cut(pattern, "*")
	return slices.DeleteFunc(c.Keys(), func(k string) bool {
		middle := strings.TrimSuffix(strings.TrimPrefix(k, before), after)
		return !strings.HasPrefix(k, before) || !strings.HasSuffix(k, after) || len(k) <= len(before)+len(after) ||
			strings.Contains(middle, ".") && before != "field."
	})
}

func usesInCode(t *testing.T) []use {
	t.Helper()
	var out []use
	for _, dir := range speakers {
		files, err := filepath.Glob(filepath.Join("..", dir, "*.go"))
		require.NoError(t, err)
		for _, path := range files {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			set := token.NewFileSet()
			file, err := parser.ParseFile(set, path, nil, 0)
			require.NoError(t, err)
			for _, d := range file.Decls {
				f, ok := d.(*ast.FuncDecl)
				if ok && slices.Contains(helpers, f.Name.Name) {
					continue
				}
				hand := atHand(d)
				ast.Inspect(d, func(n ast.Node) bool {
					if call, ok := n.(*ast.CallExpr); ok {
						out = append(out, usesOf(t, set.Position(call.Pos()).String(), call, hand)...)
					}
					return true
				})
			}
		}
	}
	return out
}

// atHand are the names of arguments that a function gathers before it speaks.
func atHand(d ast.Decl) []string {
	var out []string
	ast.Inspect(d, func(n ast.Node) bool {
		switch x := n.(type) {
		case *ast.CompositeLit:
			if a, ok := x.Type.(*ast.ArrayType); ok && isAny(a.Elt) {
				out = append(out, everyOther(x.Elts)...)
			}
		case *ast.CallExpr:
			if id, ok := x.Fun.(*ast.Ident); ok && id.Name == "append" && len(x.Args) > 1 {
				out = append(out, everyOther(x.Args[1:])...)
			}
		}
		return true
	})
	return out
}

func isAny(e ast.Expr) bool { id, ok := e.(*ast.Ident); return ok && id.Name == "any" }

func everyOther(list []ast.Expr) []string {
	var out []string
	for i := 0; i < len(list); i += 2 {
		if s, ok := text(list[i]); ok {
			out = append(out, s)
		}
	}
	return out
}

func text(e ast.Expr) (string, bool) {
	lit, ok := e.(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(lit.Value)
	return s, err == nil
}

// usesOf are the messages that a call asks for.
func usesOf(t *testing.T, at string, call *ast.CallExpr, hand []string) []use {
	t.Helper()
	if id, ok := call.Fun.(*ast.Ident); ok {
		return usesOfHabits(id.Name, at, call)
	}
	fun, ok := call.Fun.(*ast.SelectorExpr)
	if !ok {
		return nil
	}
	switch fun.Sel.Name {
	case "columns":
		var out []use
		for _, a := range call.Args {
			if id, ok := text(a); ok && !strings.HasPrefix(id, "=") {
				out = append(out, use{at: at, key: "head." + strings.TrimPrefix(id, "#")})
			}
		}
		return out
	case "defined":
		if len(call.Args) == 0 {
			return nil
		}
		group, ok := text(call.Args[0])
		require.True(t, ok, "%s: write the group as a text", at)
		return []use{{at: at, key: group + ".*.term"}, {at: at, key: group + ".*.text"}}
	case "Say", "Named", "or":
		if len(call.Args) == 0 {
			return nil
		}
		key, ok := text(call.Args[0])
		if !assert.True(t, ok, "%s: write the key as a text, so that it can be looked for", at) {
			return nil
		}
		u := use{at: at, key: key}
		first := map[string]int{"Say": 1, "Named": 2, "or": len(call.Args)}[fun.Sel.Name]
		rest := call.Args[min(first, len(call.Args)):]
		if call.Ellipsis.IsValid() {
			u.names, u.open = hand, true
			return []use{u}
		}
		u.names = everyOther(rest)
		assert.Equal(t, len(rest), 2*len(u.names), "%s: give names and values in turn, names as texts", at)
		return []use{u}
	}
	return nil
}

// usesOfHabits are the messages that the tables of internal/habit ask for.
func usesOfHabits(name, at string, call *ast.CallExpr) []use {
	if len(call.Args) == 0 {
		return nil
	}
	first, ok := text(call.Args[0])
	switch {
	case !ok:
		return nil
	case name == "because":
		return []use{{at: at, key: "because." + first}}
	case name == "text" && first != "because.*":
		return []use{{at: at, key: first}}
	}
	return nil
}

var said = regexp.MustCompile(`say "([^"]+)"((?: "[^"]+" [.$\w]+)*)`)

func usesInTemplates(t *testing.T) []use {
	t.Helper()
	files, err := filepath.Glob("../../reports/page/*.gohtml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	var out []use
	for _, path := range files {
		raw, err := os.ReadFile(path)
		require.NoError(t, err)
		for _, m := range said.FindAllStringSubmatch(string(raw), -1) {
			u := use{at: path, key: m[1]}
			for _, pair := range regexp.MustCompile(`"([^"]+)"`).FindAllStringSubmatch(m[2], -1) {
				u.names = append(u.names, pair[1])
			}
			out = append(out, u)
		}
	}
	return out
}
