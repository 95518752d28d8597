package main

import (
	"go/ast"
	"go/token"
	"testing"
)

// Package variables are tables; one that a function changes is state that nobody owns, and a race.
func TestPackageVariablesDoNotChange(t *testing.T) {
	for _, problem := range changedVariables(sources(t)) {
		t.Error(problem)
	}
}

func TestChangedVariablesAreCaught(t *testing.T) {
	declared := parseSource(t, "ingest/a.go", "package ingest\nvar (\nhits int\ntable = map[string]int{}\n)")
	tests := []struct {
		name, body string
		want       int
	}{
		{"counted up in another file", "func f() { hits++ }", 1},
		{"an entry set", `func f() { table["a"] = 1 }`, 1},
		{"handed out to be changed", "func f() { g(&hits) }", 1},
		{"a local of the same name", "func f() { hits := 0; hits++; g(hits) }", 0},
		{"an argument of the same name", "func f(hits int) { hits++ }", 0},
		{"thrown away beside a check that a type fits", "var _ = hits\nfunc f() { _ = g() }", 0},
		{"read", "func f() int { return hits + table[\"a\"] }", 0},
		{"changed in the file that declares it", "var own int\nfunc f() { own = 1 }", 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f := parseSource(t, "ingest/b.go", "package ingest\n"+tt.body)
			if got := changedVariables([]sourceFile{declared, f}); len(got) != tt.want {
				t.Errorf("got %d problems %q, want %d", len(got), got, tt.want)
			}
		})
	}
}

func changedVariables(files []sourceFile) (problems []string) {
	names := map[string]map[string]bool{} // by directory
	for _, f := range files {
		if names[f.dir()] == nil {
			names[f.dir()] = map[string]bool{}
		}
		for _, spec := range packageVariables(f) {
			for _, name := range spec.Names {
				names[f.dir()][name.Name] = true
			}
		}
	}
	for _, f := range files {
		if f.isTest() {
			continue
		}
		own := packageVariables(f)
		for _, target := range targets(f) {
			id := root(target)
			if id == nil || id.Name == "_" || !names[f.dir()][id.Name] || isLocal(id, own) {
				continue
			}
			problems = append(problems, f.at(target.Pos())+" changes the package variable "+id.Name+"; give it to a value with an owner")
		}
	}
	return problems
}

func packageVariables(f sourceFile) (specs []*ast.ValueSpec) {
	if f.isTest() {
		return nil
	}
	for _, d := range f.syntax.Decls {
		if gen, ok := d.(*ast.GenDecl); ok && gen.Tok == token.VAR {
			for _, spec := range gen.Specs {
				if v, ok := spec.(*ast.ValueSpec); ok {
					specs = append(specs, v)
				}
			}
		}
	}
	return specs
}

// targets gives what functions assign to, count, or hand out by its address.
func targets(f sourceFile) (found []ast.Expr) {
	for _, d := range f.syntax.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok || fn.Body == nil {
			continue
		}
		ast.Inspect(fn.Body, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.AssignStmt:
				if n.Tok != token.DEFINE {
					found = append(found, n.Lhs...)
				}
			case *ast.IncDecStmt:
				found = append(found, n.X)
			case *ast.UnaryExpr:
				if id, ok := n.X.(*ast.Ident); ok && n.Op == token.AND { // an entry's address may be for reading
					found = append(found, id)
				}
			}
			return true
		})
	}
	return found
}

// root is the variable that an expression such as a.b[i] begins with, or nil.
func root(e ast.Expr) *ast.Ident {
	for {
		switch x := e.(type) {
		case *ast.Ident:
			return x
		case *ast.SelectorExpr:
			e = x.X
		case *ast.IndexExpr:
			e = x.X
		case *ast.StarExpr:
			e = x.X
		case *ast.ParenExpr:
			e = x.X
		default:
			return nil
		}
	}
}

// isLocal tells whether the parser found the name declared inside a function. A name declared in another file of the
// package stays unresolved, and one of this file leads to its package variable.
func isLocal(id *ast.Ident, own []*ast.ValueSpec) bool {
	if id.Obj == nil {
		return false
	}
	for _, spec := range own {
		if id.Obj.Decl == spec {
			return false
		}
	}
	return true
}
