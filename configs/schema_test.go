package configs

import (
	"bytes"
	"encoding/json"
	"os"
	"reflect"
	"strings"
	"testing"

	generator "github.com/invopop/jsonschema"
	validator "github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"
)

// TestSchemaInStep regenerates the published schema from the structs and compares.
func TestSchemaInStep(t *testing.T) {
	text, err := json.MarshalIndent(generate(t), "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "manobridge.schema.json", string(text)+"\n")
}

// TestSchemaTakesExamples validates every example with a validator by other authors than the generator's.
func TestSchemaTakesExamples(t *testing.T) {
	s := compiled(t)
	for _, path := range examples(t) {
		if err := s.Validate(document(t, path)); err != nil {
			t.Errorf("%s: got %v, want it valid", path, err)
		}
	}
}

// TestSchemaRefuses wants an editor to warn where the loader refuses, for all that can be said within one block.
func TestSchemaRefuses(t *testing.T) {
	s := compiled(t)
	for _, name := range []string{"units-left-out", "misspelt", "kinds", "uncertainty", "publish", "publish-schemes", "list", "shapes", "other-frames", "ask", "ask-own"} {
		if err := s.Validate(document(t, "testdata/"+name+".yaml")); err == nil {
			t.Errorf("%s: got it valid, want it refused", name)
		}
	}
}

// TestEveryKeyIsDocumented wants the comment of each key in the schema, where a person at an editor reads it.
func TestEveryKeyIsDocumented(t *testing.T) {
	s := generate(t)
	for typ, block := range blocks(s) {
		for _, f := range fieldsOf(typ) {
			p, ok := block.Properties.Get(f.key)
			if !ok || p.Description == "" {
				t.Errorf("%s.%s: got no description, want the comment of the field", typ.Name(), f.key)
			}
		}
	}
}

func compiled(t *testing.T) *validator.Schema {
	t.Helper()
	doc, err := validator.UnmarshalJSON(bytes.NewReader(Schema()))
	if err != nil {
		t.Fatal(err)
	}
	c := validator.NewCompiler()
	if err := c.AddResource("manobridge.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("manobridge.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// document reads YAML as an editor does by YAML 1.2: a date is text.
func document(t *testing.T, path string) any {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var n yaml.Node
	if err := yaml.Unmarshal(data, &n); err != nil {
		t.Fatal(err)
	}
	return plainNode(t, n.Content[0])
}

func plainNode(t *testing.T, n *yaml.Node) any {
	t.Helper()
	switch n.Kind {
	case yaml.MappingNode:
		out := map[string]any{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			out[n.Content[i].Value] = plainNode(t, n.Content[i+1])
		}
		return out
	case yaml.SequenceNode:
		out := make([]any, len(n.Content))
		for i, c := range n.Content {
			out[i] = plainNode(t, c)
		}
		return out
	}
	if n.ShortTag() == "!!timestamp" {
		return n.Value
	}
	var v any
	if err := n.Decode(&v); err != nil {
		t.Fatal(err)
	}
	return v
}

// generate makes the schema: names, types and comments by the library, our tags on top.
func generate(t *testing.T) *generator.Schema {
	t.Helper()
	r := &generator.Reflector{FieldNameTag: "yaml", Anonymous: true, ExpandedStruct: true, Mapper: scalarSchema}
	if err := r.AddGoComments("manobridge/configs", "."); err != nil {
		t.Fatal(err)
	}
	for k, v := range r.CommentMap {
		r.CommentMap[k] = strings.Join(strings.Fields(v), " ")
	}
	s := r.Reflect(&Config{})
	s.Title = "manobridge configuration"
	for typ, block := range blocks(s) {
		tighten(block, typ)
	}
	return s
}

func scalarSchema(t reflect.Type) *generator.Schema {
	switch t {
	case durationType:
		return &generator.Schema{Type: "string", Pattern: `^([0-9]+(\.[0-9]+)?(ms|s|m|h))+$`}
	case dateType:
		return &generator.Schema{Type: "string", Pattern: `^[0-9]{4}-[0-9]{2}-[0-9]{2}$`}
	}
	return nil
}

// blocks pairs each struct of the file with its schema.
func blocks(s *generator.Schema) map[reflect.Type]*generator.Schema {
	out := map[reflect.Type]*generator.Schema{}
	var visit func(t reflect.Type)
	visit = func(t reflect.Type) {
		for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct || t == dateType || out[t] != nil {
			return
		}
		out[t] = s
		if def := s.Definitions[t.Name()]; def != nil {
			out[t] = def
		}
		for _, f := range fieldsOf(t) {
			visit(f.typ)
		}
	}
	visit(reflect.TypeFor[Config]())
	return out
}

// tighten puts the rules of our tags into the schema of one block.
func tighten(block *generator.Schema, t reflect.Type) {
	block.Required = nil
	defaults := reflect.New(t)
	if d, ok := defaults.Interface().(defaulter); ok {
		d.setDefaults()
	}
	for _, f := range fieldsOf(t) {
		p, _ := block.Properties.Get(f.key)
		if f.tag.Get("needed") == "true" {
			block.Required = append(block.Required, f.key)
		}
		tightenValue(p, f)
		if rest, ok := strings.CutPrefix(p.Description, f.name+" "); ok {
			p.Description = f.key + " " + rest
		}
		if v := defaults.Elem().FieldByIndex(f.index); isSet(v) && f.typ.Kind() != reflect.Struct {
			p.Default = plainValue(v)
		}
	}
	switch t {
	case reflect.TypeFor[Geometry]():
		block.AllOf = kindRules(fieldsOf(t), "kind")
	case reflect.TypeFor[Frame]():
		block.AllOf = kindRules(fieldsOf(t), "format")
	}
}

func tightenValue(p *generator.Schema, f field) {
	if f.tag.Get("keyed") != "" {
		p.Type, p.AdditionalProperties, p.Items = "object", p.Items, nil
		p.PropertyNames = &generator.Schema{Pattern: namePattern}
		return
	}
	leaf := p
	for leaf.Items != nil {
		leaf = leaf.Items
	}
	if leaf.AdditionalProperties != nil && leaf.Type == "object" {
		leaf = leaf.AdditionalProperties
	}
	switch bounds := f.bounds(); {
	case f.typ == durationType:
	case len(bounds) == 1:
		limit(leaf, bounds[0])
	case len(bounds) == 2:
		row := p.Items
		for _, b := range bounds {
			column := &generator.Schema{Type: "number"}
			limit(column, b)
			row.PrefixItems = append(row.PrefixItems, column)
		}
		row.Items = nil
	}
	for _, w := range f.words("enum", "|") {
		leaf.Enum = append(leaf.Enum, w)
	}
	for _, w := range f.words("legal", ",") {
		leaf.Enum = append(leaf.Enum, json.Number(w))
	}
	if schemes := f.words("schemes", ","); schemes != nil {
		leaf.Pattern = "^(" + strings.Join(schemes, "|") + ")://[^/@?#]+(/[^@?#]*)?$"
	}
	if f.tag.Get("name") == "true" {
		leaf.Pattern = namePattern
	}
	if pattern := f.tag.Get("pattern"); pattern != "" {
		leaf.Pattern = pattern
	}
	if f.tag.Get("env") == "true" {
		leaf.Pattern = envName.String()
	}
	if f.typ.Kind() == reflect.Slice {
		least := uint64(f.count("min", 0))
		most := uint64(f.count("max", longestList))
		p.MinItems, p.MaxItems = &least, &most
	}
	if f.typ.Kind() == reflect.String && leaf.Enum == nil {
		one := uint64(1)
		leaf.MinLength = &one
	}
}

func limit(s *generator.Schema, b bound) {
	low, high := json.Number(number(b.low)), json.Number(number(b.high))
	if b.lowOpen {
		s.ExclusiveMinimum = low
	} else {
		s.Minimum = low
	}
	if b.highOpen {
		s.ExclusiveMaximum = high
	} else {
		s.Maximum = high
	}
}

// kindRules says for each kind which keys it needs and which it does not use.
func kindRules(fields []field, discriminator string) []*generator.Schema {
	var out []*generator.Schema
	for _, kind := range fields[0].words("enum", "|") {
		is := generator.NewProperties()
		is.Set(discriminator, &generator.Schema{Const: kind})
		then := &generator.Schema{Properties: generator.NewProperties()}
		for _, f := range fields[1:] {
			if users := f.words("only", ","); users != nil && !strings.Contains(","+strings.Join(users, ",")+",", ","+kind+",") {
				then.Properties.Set(f.key, generator.FalseSchema)
			}
		}
		for _, key := range needs[kind] {
			if a, b, pair := cutStroke(key); pair {
				then.AllOf = append(then.AllOf, &generator.Schema{OneOf: []*generator.Schema{{Required: []string{a}}, {Required: []string{b}}}})
			} else {
				then.Required = append(then.Required, key)
			}
		}
		out = append(out, &generator.Schema{If: &generator.Schema{Properties: is, Required: []string{discriminator}}, Then: then})
	}
	return out
}
