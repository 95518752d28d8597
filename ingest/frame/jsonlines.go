package frame

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// jsonLines reads lines that are one JSON object each (RFC 8259); members of inner objects have dotted paths.
type jsonLines struct {
	kinds map[string]field // by path
	order []string         // paths, the address first
	numbers
	addressed bool
}

func newJSONLines(o Options) (*jsonLines, []error) {
	n, problems := newNumbers(o)
	j := &jsonLines{kinds: make(map[string]field, len(o.Keys)), numbers: n}
	if len(o.Keys) == 0 {
		return nil, append(problems, errors.New("keys: missing; the path of each member that is wanted, with the field it holds"))
	}
	j.order = slices.Sorted(maps.Keys(o.Keys))
	names := make([]string, len(j.order))
	for i, path := range j.order {
		names[i] = o.Keys[path]
		if path == "" || path[0] == '.' {
			problems = append(problems, fmt.Errorf("keys: %q is no path", path))
		}
		kind, _ := fieldNamed(names[i]) // an unknown one is reported below
		j.kinds[path] = kind
		j.addressed = j.addressed || kind == address
	}
	_, errs := parseFields(names, !o.ChannelsOnly)
	slices.SortStableFunc(j.order, func(a, b string) int {
		return boolOrder(j.kinds[b] == address) - boolOrder(j.kinds[a] == address)
	})
	return j, append(problems, errs...)
}

func boolOrder(b bool) int {
	if b {
		return 1
	}
	return 0
}

// parse implements lineParser.
func (j *jsonLines) parse(f *Frame) (ignored bool) {
	j.attribute(f, nil)
	found := make(map[string][]byte, len(j.order))
	if err := j.walk(f.Raw, found); err != nil {
		f.refuse(refuseForm(f.Raw, "is not one JSON object in order: "+err.Error(), "one JSON object in each line, each name once"))
		return false
	}
	for _, path := range j.order {
		if !j.put(f, j.kinds[path], found[path], place{name: path}) {
			return false
		}
	}
	return false
}

// attribute implements lineParser. Part of an object says nothing for certain.
func (j *jsonLines) attribute(f *Frame, _ []byte) { f.Addressed = !j.addressed }

// walk collects the members wanted, as text. The library takes the last of two members of one name; here that is a
// broken line.
func (j *jsonLines) walk(raw []byte, found map[string][]byte) error {
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	if t, err := d.Token(); err != nil {
		return plainError(err)
	} else if t != json.Delim('{') {
		return errors.New("it is no object")
	}
	if err := j.object(d, "", found); err != nil {
		return plainError(err)
	}
	if rest := bytes.TrimSpace(raw[d.InputOffset():]); len(rest) > 0 {
		return fmt.Errorf("%s follows it", quote(rest))
	}
	return nil
}

// object reads the members up to the closing brace.
func (j *jsonLines) object(d *json.Decoder, prefix string, found map[string][]byte) error {
	seen := make(map[string]bool)
	for d.More() {
		t, err := d.Token()
		if err != nil {
			return err
		}
		name := t.(string) // the decoder gives nothing else for a name
		path := prefix + name
		if seen[name] {
			return fmt.Errorf("%s stands twice", quote([]byte(path)))
		}
		seen[name] = true
		if err := j.value(d, path, found); err != nil {
			return err
		}
	}
	_, err := d.Token()
	return err
}

// value reads one value.
func (j *jsonLines) value(d *json.Decoder, path string, found map[string][]byte) error {
	t, err := d.Token()
	if err != nil {
		return err
	}
	_, wanted := j.kinds[path]
	if found[path] != nil { // a name with a point in it, and an inner object
		return fmt.Errorf("%s stands twice", quote([]byte(path)))
	}
	switch v := t.(type) {
	case json.Delim:
		if v == '{' {
			return j.object(d, path+".", found)
		}
		for d.More() { // an array holds nothing that is wanted: no path begins with a point
			if err := j.value(d, ".", found); err != nil {
				return err
			}
		}
		_, err := d.Token()
		return err
	case json.Number:
		if wanted {
			found[path] = j.local(v.String())
		}
	case string:
		if wanted {
			found[path] = []byte(strings.TrimSpace(v))
		}
	case bool:
		if wanted {
			found[path] = fmt.Append(nil, v) // refused as not a number
		}
	} // null is absent
	return nil
}

// local writes a JSON number with the decimal sign that numbers in text have, so that one reader serves both.
func (j *jsonLines) local(number string) []byte {
	return bytes.ReplaceAll([]byte(number), []byte{'.'}, []byte{j.mark})
}

// plainError says in plain words what the decoder found.
func plainError(err error) error {
	if syntax, ok := errors.AsType[*json.SyntaxError](err); ok {
		return fmt.Errorf("wrong at character %d", syntax.Offset)
	}
	if strings.Contains(err.Error(), "EOF") {
		return errors.New("it ends too early")
	}
	return err
}
