package browsertest

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const form = `<!doctype html><html lang="en"><head><title>A form</title><meta name="viewport" content="width=device-width">
<style>:focus-visible, input[type=date]:focus-within { outline: 3px solid }</style></head>
<body><main><h1>A form</h1><p style="overflow-wrap:anywhere">You said: %s</p>
<form method="post"><label>Name <input name="name"></label><label>When <input name="when" type="date"></label>
<label>Type <select name="type"><option>canoe</option><option>board</option></select></label>
<label><input type="checkbox" name="mine" value="yes"> mine</label>
<fieldset><legend>Side</legend><label><input type="radio" name="side" value="port"> port</label><label><input type="radio" name="side" value="starboard"> starboard</label></fieldset>
<button>Send it</button></form>%s</main></body></html>`

func TestATabFillsInAndSends(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_ = r.ParseForm()
		bad := ""
		if r.URL.Path == "/bad" {
			bad = `<img src="x.png">`
		}
		fmt.Fprintf(w, form, r.PostForm.Encode(), bad)
	}))
	defer server.Close()
	b := Open(t, 360, 740)
	b.Go(server.URL)
	b.Fill("", "name", "Wren", "when", "2026-03-14", "type", "board", "mine", "yes", "side", "starboard")
	b.Press("form", "Send it")
	b.See("mine=yes&name=Wren&side=starboard&type=board&when=2026-03-14")
	b.DoNotSee("canoe=")
	assert.Equal(t, 360, Eval[int](b, `window.innerWidth`))
	assert.Zero(t, b.SidewaysScroll())

	axe, err := os.ReadFile("../../deploy/axe/node_modules/axe-core/axe.min.js")
	require.NoError(t, err)
	assert.Empty(t, b.Axe(string(axe)))
	b.Go(server.URL + "/bad")
	found := b.Axe(string(axe))
	require.Len(t, found, 1)
	assert.Equal(t, "image-alt", found[0].ID)

	picture := filepath.Join(t.TempDir(), "page.png")
	b.Picture(picture)
	assert.FileExists(t, picture)
}
