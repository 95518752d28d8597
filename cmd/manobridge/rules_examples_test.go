package main

import (
	"go/ast"
	"go/token"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"manobridge/configs"
)

// Every example is one that the program takes, down to the converter of each instrument.
func TestExamplesLoad(t *testing.T) {
	examples, err := filepath.Glob(filepath.Join(repository, "configs", "*.example.yaml"))
	if err != nil || len(examples) == 0 {
		t.Fatalf("got %d examples in configs, %v, want some", len(examples), err)
	}
	for _, example := range examples {
		t.Run(filepath.Base(example), func(t *testing.T) {
			c, err := configs.Load(example, configOptions("example-host", true))
			if err != nil {
				t.Fatalf("got %v, want an example without a mistake", err)
			}
			if _, err := assembleAll(c); err != nil {
				t.Errorf("got %v, want a converter for every instrument", err)
			}
		})
	}
}

// A cause that a person finds in a payload or a log is explained in README.md, in a paragraph or a row of a table that
// begins with it.
func TestEveryCauseIsExplained(t *testing.T) {
	readme := readFile(t, "README.md")
	found := causes(t)
	if len(found) < 15 {
		t.Fatalf("got %d causes %q, want all of convert.Cause", len(found), found)
	}
	for _, cause := range found {
		begins := regexp.MustCompile("(?m)^(#+ |\\*\\*|[-*] \\**|\\| *\\**)`" + regexp.QuoteMeta(cause) + "`")
		if !begins.MatchString(readme) {
			t.Errorf("got no paragraph that begins with `%s` in README.md, want what it means and what to check", cause)
		}
	}
}

// causes gives the value of every constant of type convert.Cause.
func causes(t *testing.T) (found []string) {
	t.Helper()
	for _, f := range sources(t) {
		if f.isTest() {
			continue
		}
		for _, d := range f.syntax.Decls {
			gen, ok := d.(*ast.GenDecl)
			if !ok || gen.Tok != token.CONST {
				continue
			}
			for _, spec := range gen.Specs {
				v, ok := spec.(*ast.ValueSpec)
				if !ok || !isCause(f, v.Type) {
					continue
				}
				for _, value := range v.Values {
					if lit, ok := value.(*ast.BasicLit); ok {
						cause, err := strconv.Unquote(lit.Value)
						if err != nil {
							t.Fatal(err)
						}
						found = append(found, cause)
					}
				}
			}
		}
	}
	return found
}

// isCause tells the type convert.Cause, inside its package or outside.
func isCause(f sourceFile, e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name == "Cause" && f.dir() == "convert"
	case *ast.SelectorExpr:
		x, ok := e.X.(*ast.Ident)
		return ok && e.Sel.Name == "Cause" && x.Name == f.localName(module+"/convert")
	}
	return false
}
