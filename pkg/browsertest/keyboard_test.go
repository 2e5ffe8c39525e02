package browsertest

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestATabIsUsedByKeyboardAndWithoutScripts(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_ = r.ParseForm()
		fmt.Fprintf(w, form, r.PostForm.Encode(), `<p id="script">no script ran</p><script>document.getElementById("script").textContent = "a script ran"</script>`)
	}))
	defer server.Close()
	b := Open(t, 1280, 900)
	b.Go(server.URL)
	b.See("a script ran")
	b.Type("Name", "Wren")
	b.TabTo("mine")
	b.Keys(" ")
	b.TabTo("Send it")
	b.Enter()
	b.See("mine=yes&name=Wren")
	b.Scripts(false)
	b.Go(server.URL)
	b.See("no script ran")
	b.Scripts(true)
	b.Go(server.URL)
	b.See("a script ran")

	// What is wrong with a stop is told.
	Eval[bool](b, `document.querySelector("button").textContent = "", document.querySelector("button").focus(), true`)
	assert.Equal(t, "it has no name", Eval[focus](b, focusScript).Wrong)
	Eval[bool](b, `document.querySelector("input").focus(), true`)
	assert.Equal(t, "it stands before what had the focus earlier", Eval[focus](b, focusScript).Wrong)
	b.Go(server.URL)
	b.TabTo("Name")
	for _, outline := range []string{"none", "1px solid black", "3px solid transparent", "3px solid rgb(0 0 0 / 0)"} {
		Eval[bool](b, `document.querySelector("input").style.outline = "`+outline+`", window.hadFocus = null, true`)
		assert.Equal(t, "nothing shows that it has the focus", Eval[focus](b, focusScript).Wrong, outline)
	}
	Eval[bool](b, `document.querySelector("input").style.outline = "2px solid black", window.hadFocus = null, true`)
	assert.Empty(t, Eval[focus](b, focusScript).Wrong)
}
