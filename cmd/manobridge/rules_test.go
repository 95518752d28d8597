package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// repository is the root of the checkout, seen from this package.
const repository = "../.."

const module = "manobridge"

// sourceFile is one Go file of the project.
type sourceFile struct {
	path   string // from the root, with slashes
	text   string
	fset   *token.FileSet
	syntax *ast.File
}

func parseSource(t *testing.T, name, text string) sourceFile {
	t.Helper()
	fset := token.NewFileSet()
	syntax, err := parser.ParseFile(fset, name, text, parser.ParseComments)
	if err != nil {
		t.Fatalf("parse %s: %v", name, err)
	}
	return sourceFile{path: name, text: text, fset: fset, syntax: syntax}
}

// sources gives every Go file, tests included, testdata and dot directories left out.
func sources(t *testing.T) []sourceFile {
	t.Helper()
	var files []sourceFile
	for _, name := range projectFiles(t) {
		if path.Ext(name) == ".go" {
			files = append(files, parseSource(t, name, readFile(t, name)))
		}
	}
	if len(files) < 20 {
		t.Fatalf("found %d Go files below %s, want the whole project", len(files), repository)
	}
	return files
}

// projectFiles names every file from the root, with slashes, testdata and dot directories left out.
func projectFiles(t *testing.T) []string {
	t.Helper()
	var names []string
	err := filepath.WalkDir(repository, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && name != repository && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		if !d.IsDir() {
			rel, err := filepath.Rel(repository, name)
			if err != nil {
				return err
			}
			names = append(names, filepath.ToSlash(rel))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return names
}

func readFile(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(repository, filepath.FromSlash(name)))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// dir is the package's directory from the root.
func (f sourceFile) dir() string { return path.Dir(f.path) }

// isTest tells test code: test files, and packages that are for tests alone.
func (f sourceFile) isTest() bool { return strings.HasSuffix(f.path, "_test.go") || forTests(f.dir()) }

// forTests tells the packages that no program imports: doubles (ingesttest, publishtest, …) and the second way to a
// pressure that the first is held against.
func forTests(dir string) bool {
	return strings.HasSuffix(dir, "test") || path.Base(dir) == "secondway"
}

// at gives path:line.
func (f sourceFile) at(pos token.Pos) string {
	return f.path + ":" + strconv.Itoa(f.fset.Position(pos).Line)
}

// imports gives import path to position; the local name where one is given is ignored.
func (f sourceFile) imports() map[string]token.Pos {
	m := map[string]token.Pos{}
	for _, spec := range f.syntax.Imports {
		p, err := strconv.Unquote(spec.Path.Value)
		if err == nil {
			m[p] = spec.Pos()
		}
	}
	return m
}

// localName is what a file calls an imported package, or nothing where it does not import it.
func (f sourceFile) localName(importPath string) string {
	for _, spec := range f.syntax.Imports {
		if p, _ := strconv.Unquote(spec.Path.Value); p != importPath {
			continue
		}
		if spec.Name != nil {
			return spec.Name.Name
		}
		return path.Base(importPath)
	}
	return ""
}

// within tells whether a path is one of the patterns; "a/..." stands for a and all below it.
func within(p string, patterns []string) bool {
	return slices.ContainsFunc(patterns, func(pattern string) bool {
		root, below := strings.CutSuffix(pattern, "/...")
		return p == root || below && strings.HasPrefix(p, root+"/")
	})
}
