package main

import (
	"fmt"
	"io"
	"mime/quotedprintable"
	"net/mail"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/browsertest"
)

// A visitor is a person at a real browser, with their own mailbox.
type visitor struct {
	*browsertest.Tab
	t    *testing.T
	site *site
}

// A site is a running installation with its pages.
type site struct {
	*installation
	base    string
	serving *process
	// door lets in one at a time: two letters to one address cannot be told apart.
	door sync.Mutex
}

// serveSite starts an installation whose pages are at a known address, with a name:
// passkeys need one.
func serveSite(t *testing.T, args ...string) *site {
	t.Helper()
	return newInstallation(t).serveSite(args...)
}

// serveSite does so with an installation that is there.
func (i *installation) serveSite(args ...string) *site {
	i.t.Helper()
	listen := fmt.Sprintf("127.0.0.1:%d", freePort(i.t))
	base := "http://localhost" + strings.TrimPrefix(listen, "127.0.0.1")
	i.env = append(i.env, "REFLOAT_LISTEN="+listen, "REFLOAT_BASE_URL="+base) // the last of each counts
	s := &site{installation: i, base: base}
	s.serving = s.start(append([]string{"serve"}, args...)...)
	s.serving.awaitReady()
	return s
}

// visit opens a browser with a window of this width.
func (s *site) visit(t *testing.T, width, height int64) *visitor {
	t.Helper()
	return &visitor{browsertest.Open(t, width, height), t, s}
}

// open opens a page of the site.
func (v *visitor) open(path string) {
	v.t.Helper()
	v.Go(v.site.base + path)
}

// linkTo gives the address of the first link of the page whose words hold a text.
func (v *visitor) linkTo(text string) string {
	v.t.Helper()
	address := browsertest.Eval[string](v.Tab, fmt.Sprintf(`(Array.from(document.querySelectorAll("main a[href]")).find(a => a.innerText.includes(%q)) || document.createElement("a")).getAttribute("href") || ""`, text))
	require.NotEmpty(v.t, address, "%s\n%s", text, v.Text())
	return address
}

// signIn signs a member in by the link that comes by mail.
func (v *visitor) signIn(address string) {
	v.t.Helper()
	v.site.door.Lock()
	defer v.site.door.Unlock()
	before := time.Now()
	v.open("/sign-in")
	v.Fill("main form", "mail", address)
	v.Press("main form", "Send me a link")
	v.Go(v.site.linkMailedTo(address, "/sign-in/", before))
	v.Press("main form", "Sign in now")
	v.See("Sign out")
}

// signOut ends the session.
func (v *visitor) signOut() {
	v.t.Helper()
	v.Press("", "Sign out")
}

// linkMailedTo waits for a letter to an address and gives the link in it that has
// a certain path.
func (s *site) linkMailedTo(address, path string, since time.Time) string {
	s.t.Helper()
	pattern := regexp.MustCompile(regexp.QuoteMeta(s.base+path) + `\S+`)
	var link string
	newest := since.Add(-20 * time.Millisecond) // a file's time is that of the kernel's last tick
	require.Eventually(s.t, func() bool {
		files, _ := filepath.Glob(filepath.Join(s.folder, "mail", "*.eml"))
		for _, file := range files {
			info, err := os.Stat(file)
			if err != nil || info.ModTime().Before(newest) {
				continue
			}
			if found := pattern.FindString(letterTo(file, address)); found != "" {
				link, newest = found, info.ModTime()
			}
		}
		return link != ""
	}, time.Minute, 50*time.Millisecond, "no letter to %s with %s", address, path)
	return link
}

// letterTo gives the text of a letter, or nothing when it is to somebody else.
func letterTo(file, address string) string {
	f, err := os.Open(file)
	if err != nil {
		return ""
	}
	defer func() { _ = f.Close() }()
	letter, err := mail.ReadMessage(f)
	if err != nil || !strings.Contains(letter.Header.Get("To"), address) {
		return ""
	}
	body := letter.Body
	if letter.Header.Get("Content-Transfer-Encoding") == "quoted-printable" {
		body = quotedprintable.NewReader(body)
	}
	text, err := io.ReadAll(body)
	if err != nil {
		return ""
	}
	return string(text)
}

// axeScript is the accessibility rules.
func axeScript(t *testing.T) string {
	t.Helper()
	raw, err := os.ReadFile("../../deploy/axe/node_modules/axe-core/axe.min.js")
	require.NoError(t, err, "run deploy/test, which installs it")
	return string(raw)
}

// picture leaves a picture of the page where REFLOAT_PICTURES names a folder.
func (v *visitor) picture(name string) {
	if folder := os.Getenv("REFLOAT_PICTURES"); folder != "" {
		width, _ := v.Size()
		v.Picture(filepath.Join(folder, fmt.Sprintf("%s-%d.png", name, width)))
	}
}

// looksRight checks what can be checked of a page by a program, in light and dark.
func (v *visitor) looksRight(axe, page string) {
	v.t.Helper()
	// A desk's window at 200 % zoom has half the CSS pixels (WCAG 2.2, 1.4.4); a phone
	// can be as narrow as 320 (1.4.10). Rules are run in the narrower window in
	// light; in dark those alone that colours can break.
	wide, height := v.Size()
	assert.LessOrEqual(v.t, v.SidewaysScroll(), 0, "%s scrolls sideways at %d px", page, wide)
	for _, scheme := range []string{"dark", "light"} {
		rules := []string{"color-contrast", "link-in-text-block"}
		v.Prefer("prefers-color-scheme", scheme)
		if scheme == "light" {
			rules = nil
			narrow := int64(320)
			if wide > 600 {
				narrow = wide / 2
			}
			v.Resize(narrow, height)
			assert.LessOrEqual(v.t, v.SidewaysScroll(), 0, "%s scrolls sideways at %d px", page, narrow)
		}
		for _, violation := range v.Axe(axe, rules...) {
			assert.Fail(v.t, "an accessibility rule is broken", "%s (%s): %s: %s\n%s", page, scheme, violation.ID, violation.Help, strings.Join(violation.Nodes, "\n"))
		}
	}
	v.Resize(wide, height)
}
