// Package browsertest lets tests use the pages as people do: a real Chromium,
// fields found by their names, buttons by what stands on them, and every step
// bounded in time.
package browsertest

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// stepFor bounds one step: a page that waits for its own tables answers within
// two seconds, and a loaded machine takes its time.
const stepFor = time.Minute

// Tab is one page of a browser of the test's own.
type Tab struct {
	ctx           context.Context
	t             testing.TB
	width, height int64
}

// Open starts Chromium with an empty profile and a window of this size in CSS
// pixels. A narrow window is a phone: touch, and the page's own viewport.
func Open(t testing.TB, width, height int64) *Tab {
	t.Helper()
	allocator, cancelAllocator := chromedp.NewExecAllocator(context.Background(),
		chromedp.ExecPath("/usr/bin/chromium"), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("accept-lang", "en-GB"), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-dev-shm-usage", true))
	ctx, cancel := chromedp.NewContext(allocator)
	t.Cleanup(func() { cancel(); cancelAllocator() })
	// The first step starts the browser, which lives as long as its context.
	require.NoError(t, chromedp.Do(ctx))
	tab := &Tab{ctx: ctx, t: t}
	tab.Resize(width, height)
	return tab
}

// For gives the same page to another test, for instance one within the test that
// opened it: what fails then fails there.
func (b *Tab) For(t testing.TB) *Tab {
	other := *b
	other.t = t
	return &other
}

// Resize gives the window another size.
func (b *Tab) Resize(width, height int64) {
	b.t.Helper()
	options := []chromedp.EmulateViewportOption{}
	if width < 600 {
		options = append(options, chromedp.EmulateMobile, chromedp.EmulateTouch)
	}
	b.width, b.height = width, height
	b.do("giving the window its size", chromedp.EmulateViewport(width, height, options...))
}

// Size gives the window's size as it was set; a page that is too wide widens what a
// phone says of itself.
func (b *Tab) Size() (width, height int64) { return b.width, b.height }

// Prefer sets media features, in pairs, for instance prefers-color-scheme to dark;
// without any all are as they were.
func (b *Tab) Prefer(pairs ...string) {
	b.t.Helper()
	b.do("preferring "+strings.Join(pairs, " "), chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		params := emulation.SetEmulatedMediaParams{}
		for pair := range slices.Chunk(pairs, 2) {
			params.Features = append(params.Features, &emulation.MediaFeature{Name: pair[0], Value: pair[1]})
		}
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, params)
		return err
	}))
}

// Medium shows the page as it is laid out for print, or with "" for the screen.
func (b *Tab) Medium(medium string) {
	b.t.Helper()
	b.do("showing the page for "+medium, chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: medium})
		return err
	}))
}

func (b *Tab) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, stepFor)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		require.NoError(b.t, err, "%s, on the page:\n%s", what, b.glance())
	}
}

// glance gives the page's address and text, for messages.
func (b *Tab) glance() string {
	ctx, cancel := context.WithTimeout(b.ctx, 2*time.Second)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`location.href + "\n" + (document.body ? document.body.innerText : "")`))
	if err != nil {
		return err.Error()
	}
	return text
}

// Holds says whether a condition holds now. Nothing does while a page gives way to
// another.
func (b *Tab) Holds(condition string) bool {
	ctx, cancel := context.WithTimeout(b.ctx, stepFor)
	defer cancel()
	held, err := chromedp.Run(ctx, chromedp.Evaluate[bool](condition, chromedp.EvalAwaitPromise))
	return err == nil && held
}

// Eval evaluates a script and gives its value.
func Eval[T any](b *Tab, script string) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, stepFor)
	defer cancel()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err, script)
	return value
}

// Go opens an address.
func (b *Tab) Go(url string) {
	b.t.Helper()
	b.do("opening "+url, chromedp.Navigate(url))
}

// Address gives where the tab is.
func (b *Tab) Address() string { return Eval[string](b, `location.href`) }

// Text gives what a reader sees.
func (b *Tab) Text() string { return Eval[string](b, `document.body.innerText`) }

// See expects a text on the page, whatever its case.
func (b *Tab) See(text string) {
	b.t.Helper()
	require.Contains(b.t, strings.ToLower(b.Text()), strings.ToLower(text), b.Address())
}

// DoNotSee expects a text not to be on the page.
func (b *Tab) DoNotSee(text string) {
	b.t.Helper()
	require.NotContains(b.t, strings.ToLower(b.Text()), strings.ToLower(text), b.Address())
}

// Fill puts values into the fields of these names: texts, numbers, dates, choices
// of a list, one of several radio buttons, or "yes" and "no" for a tick box. form
// is a selector that tells forms apart; "" when there is one.
func (b *Tab) Fill(form string, fields ...string) {
	b.t.Helper()
	for i := 0; i+1 < len(fields); i += 2 {
		problem := Eval[string](b, fmt.Sprintf(fillScript, quote(form), quote(fields[i]), quote(fields[i+1])))
		require.Empty(b.t, problem, "filling in %s on the page:\n%s", fields[i], b.glance())
	}
}

// fillScript sets a field as a person's input does, events included.
const fillScript = `(function(form, name, value) {
	const root = form ? document.querySelector(form) : document;
	if (!root) return "there is no form " + form;
	const all = Array.from(root.querySelectorAll("[name=" + JSON.stringify(name) + "]")).filter(f => f.type !== "hidden");
	if (all.length === 0) return "there is no field " + name;
	let field = all[0];
	if (field.type === "radio" || (field.type === "checkbox" && all.length > 1)) {
		field = all.find(f => f.value === value);
		if (!field) return "no choice " + value + " among " + all.map(f => f.value).join(", ");
		field.checked = true;
	} else if (field.type === "checkbox") {
		field.checked = value === "yes";
	} else {
		field.focus();
		field.value = value;
		if (field.value !== value) return "the field took " + JSON.stringify(field.value);
	}
	field.dispatchEvent(new Event("input", {bubbles: true}));
	field.dispatchEvent(new Event("change", {bubbles: true}));
	return "";
})(%s, %s, %s)`

// Press presses the button or follows the link with these words and waits for the
// page that comes. form is a selector that tells forms apart; "" when the words
// do.
func (b *Tab) Press(form, words string) {
	b.t.Helper()
	marked := Eval[string](b, fmt.Sprintf(pressScript, quote(form), quote(words)))
	require.Empty(b.t, marked, "pressing %q on the page:\n%s", words, b.glance())
	b.awaitPage(words)
}

// awaitPage waits until the page that was marked has given way to another.
func (b *Tab) awaitPage(pressed string) {
	b.t.Helper()
	require.Eventually(b.t, func() bool {
		ctx, cancel := context.WithTimeout(b.ctx, stepFor)
		defer cancel()
		state, err := chromedp.Run(ctx, chromedp.Evaluate[string](`window.pressedHere ? "" : document.readyState`))
		return err == nil && state == "complete"
	}, stepFor, 10*time.Millisecond, "nothing came of pressing %q", pressed)
}

// pressScript marks the window, so that its replacement can be told.
const pressScript = `(function(form, words) {
	const root = form ? document.querySelector(form) : document;
	if (!root) return "there is no form " + form;
	const all = Array.from(root.querySelectorAll("button, a[href], input[type=submit], summary"));
	const named = all.filter(e => (e.innerText || e.value || "").trim().toLowerCase() === words.toLowerCase());
	if (named.length !== 1) return named.length + " buttons say " + words + "; there are: " + all.map(e => (e.innerText || e.value || "").trim()).join(" | ");
	window.pressedHere = true;
	named[0].click();
	return "";
})(%s, %s)`

// Upload chooses files in a file input.
func (b *Tab) Upload(input string, files ...string) {
	b.t.Helper()
	b.do("choosing files", chromedp.SetUploadFiles(input, files))
}

// Keys types keys into what has the focus, for instance chromedp's kb.Tab.
func (b *Tab) Keys(keys string) {
	b.t.Helper()
	b.do("typing", chromedp.KeyEvent(keys))
}

// Picture writes a picture of the whole page into a file.
func (b *Tab) Picture(file string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, stepFor)
	defer cancel()
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	require.NoError(b.t, err)
	require.NoError(b.t, os.MkdirAll(filepath.Dir(file), 0o755))
	require.NoError(b.t, os.WriteFile(file, png, 0o644))
}

// PDF writes the page as it comes out of a printer into a file. Paper of letter size
// is used unless the page itself asks for another.
func (b *Tab) PDF(file string) {
	b.t.Helper()
	var printed []byte
	b.do("printing", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		result, err := chromedp.Call(ctx, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: new(true)})
		if err == nil {
			printed = result.Data
		}
		return err
	}))
	require.NoError(b.t, os.MkdirAll(filepath.Dir(file), 0o755))
	require.NoError(b.t, os.WriteFile(file, printed, 0o644))
}

// Violation is one thing that the accessibility rules found.
type Violation struct {
	ID    string   `json:"id"`
	Help  string   `json:"help"`
	Nodes []string `json:"nodes"`
}

// Axe runs the accessibility rules on the page, or those named alone, and gives what
// they found. It finds part of what is wrong, never all of it.
func (b *Tab) Axe(script string, rules ...string) []Violation {
	b.t.Helper()
	if Eval[bool](b, `typeof axe === "undefined"`) {
		Eval[bool](b, script+"\n;true")
	}
	options := map[string]any{"resultTypes": []string{"violations"}}
	if len(rules) > 0 {
		options["runOnly"] = rules
	}
	given, err := json.Marshal(options)
	require.NoError(b.t, err)
	raw := Eval[string](b, `axe.run(document, `+string(given)+`).then(r => JSON.stringify(r.violations.map(v =>
		({id: v.id, help: v.help, nodes: v.nodes.map(n => n.html + " — " + n.failureSummary)}))))`)
	var found []Violation
	require.NoError(b.t, json.Unmarshal([]byte(raw), &found))
	return found
}

// SidewaysScroll gives by how many pixels the page is wider than its window.
func (b *Tab) SidewaysScroll() int {
	return Eval[int](b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`)
}

func quote(text string) string {
	raw, err := json.Marshal(text)
	if err != nil {
		panic(err) // a text can always be written
	}
	return string(raw)
}
