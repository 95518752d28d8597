package configs

import (
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// walker fills structs from YAML nodes by their tags. It stops at nothing: what is wrong is noted and the walk goes on,
// so that all problems are found at once.
type walker struct {
	problems []Problem
	lines    map[string]int  // where each key stands
	spoiled  map[string]bool // keys already reported, or whose likely misspelling is: not to be reported as missing too
}

var (
	durationType = reflect.TypeFor[Duration]()
	dateType     = reflect.TypeFor[Date]()
)

// note records a problem at a node and marks its key as reported.
func (w *walker) note(n *yaml.Node, path string, p Problem) {
	p.Line, p.Key = n.Line, path
	w.problems = append(w.problems, p)
	w.spoiled[path] = true
}

// value fills v from a node; f holds the rules of the key. It tells whether v was filled.
func (w *walker) value(n *yaml.Node, v reflect.Value, path string, f field) bool {
	if problem := unread(n); problem != nil {
		w.note(n, path, *problem)
		return false
	}
	switch {
	case v.Type() == durationType, v.Type() == dateType:
		return w.scalar(n, v, path, f)
	case v.Kind() == reflect.Pointer:
		made := reflect.New(v.Type().Elem())
		if d, ok := made.Interface().(defaulter); ok {
			d.setDefaults()
		}
		if !w.value(n, made.Elem(), path, f) {
			return false
		}
		v.Set(made)
		return true
	case v.Kind() == reflect.Struct:
		return w.block(n, v, path)
	case v.Kind() == reflect.Map:
		return w.numbers(n, v, path, f)
	case v.Kind() == reflect.Slice && f.tag.Get("keyed") != "":
		return w.named(n, v, path)
	case v.Kind() == reflect.Slice, v.Kind() == reflect.Array:
		return w.sequence(n, v, path, f)
	}
	return w.scalar(n, v, path, f)
}

// unread names what YAML can do and this file does not use, because it hides what a value is.
func unread(n *yaml.Node) *Problem {
	switch {
	case n.Kind == yaml.AliasNode:
		return &Problem{Seen: "*" + quote(n.Value), Fault: "is an alias", Hint: "aliases are not read: write the value out"}
	case n.Anchor != "":
		return &Problem{Seen: "&" + quote(n.Anchor), Fault: "is an anchor", Hint: "anchors are not read: leave it away"}
	case n.Style&yaml.TaggedStyle != 0:
		return &Problem{Seen: quote(n.Tag), Fault: "is a YAML tag", Hint: "tags are not read: leave it away"}
	case n.Kind == yaml.ScalarNode && n.ShortTag() == "!!null":
		return &Problem{Fault: "has no value", Hint: "write one, or leave the key out"}
	}
	return nil
}

// mapping checks that a node is a block of keys and calls each for every key that is fit to be one, once.
func (w *walker) mapping(n *yaml.Node, path string, each func(key, value *yaml.Node, path string)) bool {
	if n.Kind != yaml.MappingNode {
		w.note(n, path, Problem{Seen: shape(n), Fault: "stands where a block of keys is needed"})
		return false
	}
	seen := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		if key.Kind != yaml.ScalarNode || key.Anchor != "" || key.Style&yaml.TaggedStyle != 0 {
			w.note(key, path, Problem{Seen: shape(key), Fault: "is not a key"})
			continue
		}
		if key.Value == "<<" && isPlain(key) {
			w.note(key, path, Problem{Seen: `"<<"`, Fault: "is a merge key", Hint: "merges are not read: write the keys out"})
			continue
		}
		at := join(path, key.Value)
		if line, twice := seen[key.Value]; twice {
			w.note(key, at, Problem{Fault: fmt.Sprintf("stated twice, first in line %d", line), Hint: "keep one"})
			continue
		}
		seen[key.Value] = key.Line
		w.lines[at] = key.Line
		each(key, value, at)
	}
	return true
}

// block fills a struct.
func (w *walker) block(n *yaml.Node, v reflect.Value, path string) bool {
	fields := fieldsOf(v.Type())
	stated := map[string]bool{}
	ok := w.mapping(n, path, func(key, value *yaml.Node, at string) {
		i := slices.IndexFunc(fields, func(f field) bool { return f.key == key.Value })
		if i < 0 {
			w.unknown(n, key, at, path, fields)
			return
		}
		stated[key.Value] = true
		w.value(value, v.FieldByIndex(fields[i].index), at, fields[i])
	})
	if !ok {
		return false
	}
	for _, f := range fields {
		at := join(path, f.key)
		if f.tag.Get("needed") == "true" && !stated[f.key] && !w.spoiled[at] {
			p := Problem{Fault: "needed, and not stated"}
			if b := f.bounds(); len(b) == 1 {
				p.Fault, p.Allowed = "needed, and not stated: "+what(f)+",", b[0].String()
			}
			w.note(n, at, p)
		}
	}
	return true
}

// unknown reports a key that does not exist, with what was probably meant.
func (w *walker) unknown(block, key *yaml.Node, at, path string, fields []field) {
	known := keysOf(fields)
	p := Problem{Fault: "no such key"}
	switch keys, unitMatter := meant(key.Value, known); {
	case isSecretWord(key.Value):
		p.Fault = "a secret is never written in this file"
		base := plainWord(key.Value)
		for _, f := range fields {
			if b, ok := strings.CutSuffix(f.key, "_file"); ok && slices.Contains(known, b+"_env") {
				base = b
				w.spoiled[join(path, f.key)] = true
			}
		}
		p.Hint = fmt.Sprintf("put it in a file and name that in %s_file, or in an environment variable and name that in %s_env", base, base)
	case len(keys) > 0:
		if unitMatter {
			p.Fault = "no such key: a quantity states its unit in its key"
			if baseOf(plainWord(key.Value)) != plainWord(key.Value) {
				p.Fault = "no such key: this quantity is stated in another unit"
			}
		}
		p.Hint = "did you mean " + list(quoted(keys)) + "?"
		w.spoil(path, keys)
	case block.Style&yaml.FlowStyle != 0 && digitsOnly.MatchString(key.Value):
		p.Hint = "the decimal sign is a point, a comma starts a new key"
	default:
		if inner := within(key.Value, fields); inner != "" {
			p.Hint = "it belongs under " + inner
		}
	}
	w.note(key, at, p)
}

var digitsOnly = regexp.MustCompile(`^[0-9]+$`)

func (w *walker) spoil(path string, keys []string) {
	for _, k := range keys {
		w.spoiled[join(path, k)] = true
	}
}

// within names the block below that has a key, empty where none has.
func within(key string, fields []field) string {
	for _, f := range fields {
		t := f.typ
		if t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		if t.Kind() == reflect.Struct && t != dateType && slices.Contains(keysOf(fieldsOf(t)), key) {
			return f.key
		}
	}
	return ""
}

// named fills a slice of structs from a block whose keys are their names.
func (w *walker) named(n *yaml.Node, v reflect.Value, path string) bool {
	return w.mapping(n, path, func(key, value *yaml.Node, at string) {
		if fault := nameFault(key.Value); fault != nil {
			w.note(key, at, *fault)
		}
		made := reflect.New(v.Type().Elem())
		if d, ok := made.Interface().(defaulter); ok {
			d.setDefaults()
		}
		made.Elem().FieldByName("Name").SetString(key.Value)
		w.value(value, made.Elem(), at, field{})
		v.Set(reflect.Append(v, made.Elem()))
	})
}

// numbers fills a map from keys to numbers or words.
func (w *walker) numbers(n *yaml.Node, v reflect.Value, path string, f field) bool {
	v.Set(reflect.MakeMap(v.Type()))
	return w.mapping(n, path, func(key, value *yaml.Node, at string) {
		element := reflect.New(v.Type().Elem()).Elem()
		if w.value(value, element, at, field{tag: f.tag}) {
			v.SetMapIndex(reflect.ValueOf(key.Value), element)
		}
	})
}

// longestList bounds a list where its tag does not.
const longestList = 1000

// sequence fills a list, or an array of fixed length.
func (w *walker) sequence(n *yaml.Node, v reflect.Value, path string, f field) bool {
	if n.Kind != yaml.SequenceNode {
		w.note(n, path, Problem{Seen: shape(n), Fault: "stands where a list is needed"})
		return false
	}
	if v.Kind() == reflect.Array && len(n.Content) != v.Len() {
		w.note(n, path, Problem{Fault: fmt.Sprintf("has %d values, %d are needed", len(n.Content), v.Len())})
		return false
	}
	if v.Kind() == reflect.Slice {
		least, most := f.count("min", 0), f.count("max", longestList)
		if len(n.Content) < least || len(n.Content) > most {
			w.note(n, path, Problem{Fault: fmt.Sprintf("has %d entries, %d to %d are allowed", len(n.Content), least, most)})
			return false
		}
		v.Set(reflect.MakeSlice(v.Type(), len(n.Content), len(n.Content)))
	}
	ok := true
	bounds := f.words("range", ";")
	for i, element := range n.Content {
		inner := f
		if v.Kind() == reflect.Array && len(bounds) == v.Len() {
			inner = f.column(i)
		}
		if !w.value(element, v.Index(i), path+"["+strconv.Itoa(i)+"]", inner) {
			ok = false
		}
	}
	if !ok {
		w.spoiled[path] = true
	}
	return ok
}

// column gives the rules of one column of a table.
func (f field) column(i int) field {
	unit := ""
	if units := f.words("unit", ";"); i < len(units) {
		unit = units[i]
	}
	f.tag = reflect.StructTag(fmt.Sprintf("range:%q unit:%q", f.words("range", ";")[i], unit))
	return f
}

// join makes the path of a key.
func join(path, key string) string {
	if len(key) > 64 || strings.ContainsFunc(key, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		key = quote(key)
	}
	if path == "" {
		return key
	}
	return path + "." + key
}

// shape names what a node is, in the words of the file.
func shape(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a block of keys"
	case yaml.SequenceNode:
		return "a list"
	}
	return quote(n.Value)
}

// what names what a key holds.
func what(f field) string {
	switch {
	case f.typ.Kind() == reflect.Pointer && f.typ.Elem().Kind() == reflect.Array:
		return "a pair of numbers"
	case f.typ.Kind() == reflect.Slice:
		return "a list"
	}
	return "a number"
}
