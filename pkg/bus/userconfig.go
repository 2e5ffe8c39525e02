package bus

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// UserConfig gives a room's entry for the list of users in the configuration of
// an outside NATS server, with the same permissions as in the embedded one.
func UserConfig(room, password string) string {
	p := Permissions(room)
	return fmt.Sprintf("{ user: %s, password: %s, permissions: { publish: { allow: %s }, subscribe: { allow: %s }, allow_responses: { max: %d, expires: %q } } }",
		quoted(room), quoted(password), quoted(p.Publish.Allow), quoted(p.Subscribe.Allow), p.Response.MaxMsgs, p.Response.Expires)
}

// quoted writes a text or a list of texts; NATS reads JSON's form of both.
func quoted(v any) string {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false) // subjects hold >
	if err := enc.Encode(v); err != nil {
		panic(err) // texts can always be written
	}
	return string(bytes.TrimSpace(b.Bytes()))
}
