package web

import (
	"encoding/json"
	"net/http"
	"reflect"
	"strings"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// tree is a part of the description.
type tree map[string]any

// apiDescription describes the interface in OpenAPI 3.1, made from the routes and
// the types of commands and answers.
func (v *visit) apiDescription() error {
	raw, err := json.Marshal(describeAPI(v.cfg.BaseURL))
	if err != nil {
		return err
	}
	return v.write("application/json", raw)
}

func describeAPI(base string) tree {
	d := describer{schemas: tree{}}
	paths := tree{}
	at := func(path string) tree {
		if paths[apiAt+path] == nil {
			paths[apiAt+path] = tree{}
		}
		return paths[apiAt+path].(tree)
	}
	for _, r := range apiReads() {
		at(r.path)["get"] = d.read(r)
	}
	for _, o := range apiOrders() {
		at(o.path)["post"] = d.order(o)
	}
	at("/photos")["post"] = tree{
		"operationId": "send-photo", "summary": "Send a photo; what is kept of it are its pixels. With for=receipt it belongs to a booking and no boat shows it",
		"parameters": d.parameters("/photos", []string{"for"}, false), "responses": d.answers(d.of(reflect.TypeFor[keptPhoto]()), "application/json"),
		"requestBody": tree{"required": true, "content": tree{"image/jpeg": tree{}, "image/png": tree{}, "image/webp": tree{}}},
	}
	d.schemas["Problem"] = d.object(reflect.TypeFor[problemDetails]())
	if base == "" {
		base = "/"
	}
	return tree{
		"openapi": "3.1.0",
		"info": tree{"title": "Refloat", "version": "1", "description": "The same orders that the pages give, and the documents that they show. " +
			"Ids of new things are the sender's choice (UUIDs); an order that is sent again with its key does its work once. Lengths are millimetres, masses grams, money minor units."},
		"servers":  []tree{{"url": base}},
		"security": []tree{{"token": []string{}}},
		"paths":    paths,
		"components": tree{
			"schemas":         d.schemas,
			"securitySchemes": tree{"token": tree{"type": "http", "scheme": "bearer", "description": "A member's token, made on the page /tokens."}},
		},
	}
}

// describer collects the schemas of the types that it meets.
type describer struct{ schemas tree }

func (d describer) read(r apiRead) tree {
	operation := tree{"operationId": r.name, "summary": r.title, "parameters": d.parameters(r.path, r.query, false)}
	if r.answer == nil {
		operation["responses"] = d.answers(nil, r.kind)
	} else {
		operation["responses"] = d.answers(d.of(reflect.TypeOf(r.answer)), "application/json")
	}
	if r.may.public {
		operation["security"] = []tree{{}}
	}
	return operation
}

func (d describer) order(o apiOrder) tree {
	return tree{
		"operationId": o.name, "summary": o.title, "description": strings.TrimSpace(o.words + " " + whoMay(o.may)),
		"parameters":  d.parameters(o.path, nil, true),
		"requestBody": tree{"required": true, "content": tree{"application/json": tree{"schema": d.command(o)}}},
		"responses":   d.answers(d.of(reflect.TypeFor[message.Reply]()), "application/json"),
	}
}

func whoMay(a audience) string {
	if a.member {
		return "Any member."
	}
	var roles []string
	for _, role := range a.roles {
		roles = append(roles, string(role))
	}
	return "For the role " + strings.Join(roles, " or ") + "."
}

// command describes an order without what its address names.
func (d describer) command(o apiOrder) tree {
	schema := d.object(reflect.TypeOf(o.command).Elem())
	for _, name := range braces(o.path) {
		delete(schema["properties"].(tree), name)
	}
	return schema
}

func (d describer) parameters(path string, query []string, key bool) []tree {
	all := []tree{}
	for _, name := range braces(path) {
		all = append(all, tree{"name": name, "in": "path", "required": true, "schema": tree{"type": "string"}})
	}
	for _, name := range query {
		all = append(all, tree{"name": name, "in": "query", "schema": tree{"type": "string"}})
	}
	if key {
		all = append(all, tree{"name": keyHeader, "in": "header", "required": true, "description": "One per intent.", "schema": tree{"type": "string", "maxLength": 64}})
	}
	return all
}

func (d describer) answers(schema tree, kind string) tree {
	content := tree{}
	if schema != nil {
		content["schema"] = schema
	}
	problem := tree{"description": "What stands against it.", "content": tree{"application/problem+json": tree{"schema": tree{"$ref": "#/components/schemas/Problem"}}}}
	return tree{"200": tree{"description": http.StatusText(http.StatusOK), "content": tree{kind: content}}, "default": problem}
}

// vocabularies are the words that fields of these types can hold.
var vocabularies = map[reflect.Type][]string{
	reflect.TypeFor[boat.Type]():      asTexts(boat.Types),
	reflect.TypeFor[boat.Material]():  asTexts(boat.Materials),
	reflect.TypeFor[boat.Zone]():      asTexts(boat.Zones),
	reflect.TypeFor[boat.Side]():      asTexts(boat.Sides),
	reflect.TypeFor[boat.Face]():      asTexts(boat.Faces),
	reflect.TypeFor[boat.Part]():      asTexts(boat.Parts),
	reflect.TypeFor[boat.Defect]():    asTexts(boat.Defects),
	reflect.TypeFor[boat.Severity]():  asTexts(boat.Severities),
	reflect.TypeFor[boat.Feature]():   asTexts(boat.Features),
	reflect.TypeFor[message.Taking](): asTexts(message.Takings),
	reflect.TypeFor[State]():          asTexts(States),
}

func asTexts[W ~string](words []W) []string {
	texts := make([]string, len(words))
	for i, w := range words {
		texts[i] = string(w)
	}
	return texts
}

// of gives the schema of a type: a reference for a struct that has a name.
func (d describer) of(t reflect.Type) tree {
	switch t {
	case reflect.TypeFor[clock.Date]():
		return tree{"type": "string", "description": "A day, year-month-day; empty when it is not stated."}
	case reflect.TypeFor[time.Time]():
		return tree{"type": "string", "format": "date-time"}
	case reflect.TypeFor[money.Amount]():
		return tree{"type": "object", "properties": tree{"minor": tree{"type": "integer"}, "currency": tree{"type": "string"}}}
	case reflect.TypeFor[json.RawMessage]():
		return tree{}
	}
	if words, ok := vocabularies[t]; ok {
		return tree{"type": "string", "enum": words}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return d.of(t.Elem())
	case reflect.Struct:
		return d.reference(t)
	case reflect.Slice, reflect.Array:
		return tree{"type": "array", "items": d.of(t.Elem())}
	case reflect.Map:
		return tree{"type": "object", "additionalProperties": d.of(t.Elem())}
	case reflect.Bool:
		return tree{"type": "boolean"}
	case reflect.String:
		return tree{"type": "string"}
	case reflect.Int, reflect.Int64, reflect.Int32, reflect.Uint8:
		return tree{"type": "integer"}
	case reflect.Float64:
		return tree{"type": "number"}
	}
	return tree{}
}

// reference describes a struct once, under its name.
func (d describer) reference(t reflect.Type) tree {
	if t.Name() == "" {
		return d.object(t)
	}
	// Two packages may give two types one name.
	name := strings.ToUpper(t.PkgPath()[strings.LastIndex(t.PkgPath(), "/")+1:][:1]) + t.PkgPath()[strings.LastIndex(t.PkgPath(), "/")+2:] + t.Name()
	if _, known := d.schemas[name]; !known {
		d.schemas[name] = tree{} // a type may hold itself
		d.schemas[name] = d.object(t)
	}
	return tree{"$ref": "#/components/schemas/" + name}
}

func (d describer) object(t reflect.Type) tree {
	properties := tree{}
	d.addFields(properties, t)
	return tree{"type": "object", "properties": properties}
}

func (d describer) addFields(properties tree, t reflect.Type) {
	for i := range t.NumField() {
		field := t.Field(i)
		name := jsonName(field)
		if name == "" && field.Type.Kind() == reflect.Struct {
			d.addFields(properties, field.Type)
		}
		if field.IsExported() && name != "" && name != "-" {
			properties[name] = d.of(field.Type)
		}
	}
}
