package main

import (
	"go/ast"
	"go/token"
	"slices"
	"strings"
	"testing"
)

// sourceRule forbids something in a Go file. Each brings a file that breaks it and one that does not, so that a rule
// that no longer looks is noticed.
type sourceRule struct {
	name, why string
	find      func(sourceFile) []token.Pos

	badPath, bad   string
	goodPath, good string
}

var sourceRules = []sourceRule{
	{
		name: "no init functions",
		why:  "what runs before main cannot be ordered, tested or refused",
		find: initFunctions,

		badPath: "ingest/x.go", bad: "func init() {}",
		goodPath: "ingest/x.go", good: "type t struct{}\nfunc (t) init() {}",
	},
	{
		name: "no clock in convert",
		why:  "convert gets its times passed in, so that a result can be computed again",
		find: func(f sourceFile) []token.Pos {
			if f.isTest() || !within(f.dir(), []string{"convert/..."}) {
				return nil
			}
			return uses(f, "time", "Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker")
		},

		badPath: "convert/x.go", bad: "import clock \"time\"\nvar now = clock.Now",
		goodPath: "ingest/x.go", good: "import \"time\"\nvar now = time.Now",
	},
	{
		name: "no sleep in tests",
		why:  "a test that sleeps is slow or flaky: poll a condition with a deadline, use a channel or testing/synctest",
		find: func(f sourceFile) []token.Pos {
			if !f.isTest() || f.localName("testing/synctest") != "" { // there it moves a clock and waits for nothing
				return nil
			}
			return uses(f, "time", "Sleep")
		},

		badPath: "ingest/x_test.go", bad: "import \"time\"\nfunc f() { time.Sleep(1) }",
		goodPath: "ingest/x_test.go", good: "import (\n\"testing/synctest\"\n\"time\"\n)\nfunc f() { time.Sleep(1); synctest.Wait() }",
	},
	{
		name: "no way out but main",
		why:  "a package returns its error; only main may end the program, after everything was closed",
		find: func(f sourceFile) []token.Pos {
			if f.isTest() || f.path == "cmd/manobridge/main.go" {
				return nil
			}
			found := append(builtin(f, "panic"), uses(f, "os", "Exit")...)
			return append(found, uses(f, "log", "Fatal", "Fatalf", "Fatalln", "Panic", "Panicf", "Panicln")...)
		},

		badPath: "publish/x.go", bad: "import \"os\"\nfunc f() { os.Exit(1) }\nfunc g() { panic(1) }",
		goodPath: "cmd/manobridge/main.go", good: "import \"os\"\nfunc main() { os.Exit(1) }",
	},
	{
		name: "skipped tests fail in continuous integration",
		why: "a missing server may be skipped on a laptop only: look at the environment variable CI first, or at " +
			"MANOBRIDGE_LONG, or at os.Getuid for what .ci/run runs again as an ordinary user",
		find: bareSkips,

		badPath: "publish/x_test.go", bad: "func TestX(t *testing.T) { t.Skip() }",
		goodPath: "publish/x_test.go", good: "func TestX(t *testing.T) { if os.Getenv(\"CI\") == \"true\" { t.Fatal() }; t.Skip() }",
	},
	{
		name: "files hold one idea",
		why:  "past 500 lines there is a second idea in it: give that a file",
		find: func(f sourceFile) []token.Pos {
			if strings.Count(f.text, "\n") <= 500 {
				return nil
			}
			return []token.Pos{f.syntax.Package}
		},

		badPath: "ingest/x.go", bad: strings.Repeat("\n", 500),
		goodPath: "ingest/x.go", good: strings.Repeat("\n", 400),
	},
}

func TestSourceRules(t *testing.T) {
	files := sources(t)
	for _, rule := range sourceRules {
		t.Run(rule.name, func(t *testing.T) {
			for _, f := range files {
				for _, pos := range rule.find(f) {
					t.Errorf("%s: %s", f.at(pos), rule.why)
				}
			}
		})
	}
}

func TestSourceRulesCatch(t *testing.T) {
	for _, rule := range sourceRules {
		t.Run(rule.name, func(t *testing.T) {
			bad := parseSource(t, rule.badPath, "package x\n"+rule.bad)
			if len(rule.find(bad)) == 0 {
				t.Errorf("got nothing found in %q, want a problem", rule.bad)
			}
			good := parseSource(t, rule.goodPath, "package x\n"+rule.good)
			if found := rule.find(good); len(found) > 0 {
				t.Errorf("got %d problems in %q, want none", len(found), rule.good)
			}
		})
	}
}

func initFunctions(f sourceFile) (found []token.Pos) {
	for _, d := range f.syntax.Decls {
		if fn, ok := d.(*ast.FuncDecl); ok && fn.Recv == nil && fn.Name.Name == "init" {
			found = append(found, fn.Pos())
		}
	}
	return found
}

// uses finds the names of an imported package, called or passed on.
func uses(f sourceFile, importPath string, names ...string) (found []token.Pos) {
	local := f.localName(importPath)
	if local == "" {
		return nil
	}
	ast.Inspect(f.syntax, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok && slices.Contains(names, sel.Sel.Name) {
			if x, ok := sel.X.(*ast.Ident); ok && x.Name == local {
				found = append(found, sel.Pos())
			}
		}
		return true
	})
	return found
}

// builtin finds calls of a built-in function.
func builtin(f sourceFile, name string) (found []token.Pos) {
	ast.Inspect(f.syntax, func(n ast.Node) bool {
		if call, ok := n.(*ast.CallExpr); ok {
			if fn, ok := call.Fun.(*ast.Ident); ok && fn.Name == name {
				found = append(found, call.Pos())
			}
		}
		return true
	})
	return found
}

// bareSkips finds t.Skip in functions that never look at what decides whether it may be.
// Skipping an input of a fuzz or a property test, or a row of a table, is another thing.
func bareSkips(f sourceFile) (found []token.Pos) {
	for _, d := range f.syntax.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok || fn.Body == nil {
			continue
		}
		looks := false
		var skips []token.Pos
		ast.Inspect(fn.Body, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.CallExpr:
				if sel, ok := n.Fun.(*ast.SelectorExpr); ok {
					switch sel.Sel.Name {
					case "Skip", "Skipf", "SkipNow":
						if x, ok := sel.X.(*ast.Ident); ok && slices.Contains([]string{"t", "tb", "b", "f"}, x.Name) {
							skips = append(skips, n.Pos())
						}
					case "Fuzz", "Check":
						return false
					}
				}
			case *ast.Ident:
				looks = looks || n.Name == "Getuid" || n.Name == "Geteuid"
			case *ast.BasicLit:
				looks = looks || n.Value == `"CI"` || n.Value == `"MANOBRIDGE_LONG"`
			}
			return true
		})
		if !looks {
			found = append(found, skips...)
		}
	}
	return found
}
