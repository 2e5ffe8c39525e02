package browsertest

import (
	"context"
	"strings"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// Scripts switches the scripts of pages on or off, from the next page on. Those of
// the test itself always run.
func (b *Tab) Scripts(on bool) {
	b.t.Helper()
	b.do("switching scripts", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !on})
		return err
	}))
}

// mostStops bounds how often the tab key is pressed on one page.
const mostStops = 250

// focus is what has the focus.
type focus struct {
	Name  string `json:"name"`
	What  string `json:"what"`
	Wrong string `json:"wrong"`
}

// focusScript names what has the focus as a screen reader does, and says what is
// wrong with it: it stands before what had the focus earlier, has no name, or does
// not show that it has the focus by an outline of two pixels that stands out from
// transparent (WCAG 2.2, success criteria 2.4.3, 4.1.2, 2.4.7 and, for the two
// pixels, 2.4.13).
const focusScript = `(function() {
	const e = document.activeElement;
	if (!e || e === document.body) return {name: "", what: "nothing", wrong: ""};
	const words = n => (n ? n.innerText || n.textContent : "").replace("(optional)", "").trim();
	const by = (e.getAttribute("aria-labelledby") || "").split(" ").map(id => words(document.getElementById(id))).join(" ").trim();
	const name = by || e.getAttribute("aria-label") || (e.labels && e.labels.length ? words(e.labels[0]) : "") || words(e) || e.value || "";
	const style = getComputedStyle(e);
	const before = window.hadFocus && window.hadFocus.isConnected && (window.hadFocus.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_PRECEDING);
	window.hadFocus = e;
	let wrong = before ? "it stands before what had the focus earlier" : !name ? "it has no name" : "";
	// A day's input has the focus in one of its parts, and shows it itself.
	const outlined = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2 && !/^transparent$|^rgba.*[,/] *0\)$/.test(style.outlineColor);
	if (!outlined || !(e.matches(":focus-visible") || e.type === "date")) wrong = wrong || "nothing shows that it has the focus";
	return {name: name, what: e.outerHTML.slice(0, 200), wrong: wrong};
})()`

// TabTo presses the tab key until what has the focus bears a name, and checks
// everything on the way there.
func (b *Tab) TabTo(name string) {
	b.t.Helper()
	var passed []string
	for range mostStops {
		b.Keys(kb.Tab)
		f := Eval[focus](b, focusScript)
		require.Empty(b.t, f.Wrong, "%s\n%s", f.What, b.Address())
		if strings.EqualFold(f.Name, name) {
			return
		}
		if f.Name == "" && len(passed) > 0 {
			break
		}
		passed = append(passed, f.Name)
	}
	require.Fail(b.t, "the tab key never comes to it", "%q on %s; it comes to: %s", name, b.Address(), strings.Join(passed, " | "))
}

// Enter presses the enter key and waits for the page that comes.
func (b *Tab) Enter() {
	b.t.Helper()
	Eval[bool](b, `window.pressedHere = true`)
	b.Keys(kb.Enter)
	b.awaitPage("the enter key")
}

// Type tabs to an input and types into it.
func (b *Tab) Type(name, text string) {
	b.t.Helper()
	b.TabTo(name)
	b.Keys(text)
}
