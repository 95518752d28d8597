package configs

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"reflect"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Options are what the package is told instead of looking it up.
type Options struct {
	// HostName gives the name of the bridge where the file states none.
	HostName string
	// PressureUnit tells whether a graduated scale may be engraved in that unit; its error says why not. Nil: any.
	PressureUnit func(unit string) error
	// ReadFile reads the file of a secret. Nil: Parse reads no secrets, Load uses os.ReadFile.
	ReadFile func(path string) ([]byte, error)
	// LookupEnv reads an environment variable. Nil: Parse reads no secrets, Load uses os.LookupEnv.
	LookupEnv func(name string) (string, bool)
	// SkipSecrets leaves secrets unread, for commands that connect to nothing.
	SkipSecrets bool
}

// largestFile bounds the file; a rack of a hundred instruments needs a tenth of it.
const largestFile = 1 << 20

// Load reads the file at path and the secrets it names. The error is a *Problems when the file was read and is wrong.
func Load(path string, o Options) (*Config, error) {
	if o.ReadFile == nil {
		o.ReadFile = os.ReadFile
	}
	if o.LookupEnv == nil {
		o.LookupEnv = os.LookupEnv
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read configuration: %w", err)
	}
	defer f.Close() // read only: nothing can be lost
	data, err := io.ReadAll(io.LimitReader(f, largestFile+1))
	if err != nil {
		return nil, fmt.Errorf("read configuration: %w", err)
	}
	return Parse(path, data, o)
}

// Parse reads a configuration from memory; name stands for it in messages. It is pure but for the functions in o.
func Parse(name string, data []byte, o Options) (*Config, error) {
	w := &walker{lines: map[string]int{}, spoiled: map[string]bool{}}
	c := Default(o.HostName)
	if root := w.document(data); root != nil {
		if w.block(root, reflect.ValueOf(&c).Elem(), "") {
			k := checker{walker: w, c: &c, o: o}
			k.all()
		}
	}
	if err := asError(name, w.problems); err != nil {
		return nil, err
	}
	c.lines = w.lines
	inOrder(c.Remarks)
	return &c, nil
}

// Problem makes a problem of a key with its line, for what other packages find wrong with a value.
func (c *Config) Problem(key, fault, hint string) Problem {
	return Problem{Line: lineOf(c.lines, key), Key: key, Fault: fault, Hint: hint}
}

// document parses the one YAML document of a file, nil with problems noted where there is not exactly one.
func (w *walker) document(data []byte) *yaml.Node {
	whole := func(p Problem) *yaml.Node {
		w.problems = append(w.problems, p)
		return nil
	}
	if len(data) > largestFile {
		return whole(Problem{Fault: "the file is larger than", Allowed: "1 MiB"})
	}
	if i := bytes.IndexByte(data, 0); i >= 0 {
		return whole(Problem{Line: 1 + bytes.Count(data[:i], []byte("\n")), Fault: "the file has a NUL byte", Hint: "save it as UTF-8 text"})
	}
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	var doc yaml.Node
	if err := decoder.Decode(&doc); errors.Is(err, io.EOF) {
		return whole(Problem{Fault: "the file is empty"})
	} else if err != nil {
		return whole(syntaxProblem(err))
	}
	root := &doc
	if doc.Kind == yaml.DocumentNode && len(doc.Content) == 1 {
		root = doc.Content[0]
	}
	var second yaml.Node
	if err := decoder.Decode(&second); err == nil {
		w.problems = append(w.problems, Problem{Line: second.Line, Fault: "a second document begins here", Hint: "one file holds one configuration: remove the line ---"})
	} else if !errors.Is(err, io.EOF) {
		w.problems = append(w.problems, syntaxProblem(err))
	}
	if p := unread(root); p != nil {
		if root.Kind == yaml.ScalarNode && root.Value == "" {
			return whole(Problem{Fault: "the file is empty"})
		}
		p.Line = root.Line
		return whole(*p)
	}
	return root
}

var yamlLine = regexp.MustCompile(`^yaml: (?:line ([0-9]+): )?`)

// syntaxProblem words what the YAML reader could not read.
func syntaxProblem(err error) Problem {
	text := err.Error()
	p := Problem{Fault: "is not YAML: " + yamlLine.ReplaceAllString(text, ""), Hint: "check indentation, quotes and brackets in this line and the one before"}
	if m := yamlLine.FindStringSubmatch(text); m != nil && m[1] != "" {
		p.Line, _ = strconv.Atoi(m[1])
	}
	if strings.Contains(text, "cannot start any token") {
		p.Hint = "indent with blanks, not with tabs, and put text with signs in quotes"
	}
	return p
}
