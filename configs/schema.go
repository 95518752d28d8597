package configs

import (
	_ "embed"
	"slices"
)

// schema is generated from the structs and their comments; a test keeps it in step.
//
//go:embed manobridge.schema.json
var schema []byte

// Schema gives the JSON Schema (2020-12) of the file, for editors. It knows keys, types, ranges and what each kind needs;
// what holds between blocks only Parse knows.
func Schema() []byte { return slices.Clone(schema) }
