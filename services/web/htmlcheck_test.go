package web

import (
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// sheet is a page as a test reads it.
type sheet struct {
	t    testing.TB
	root *html.Node
	text string
}

func readSheet(t testing.TB, r io.Reader) *sheet {
	t.Helper()
	raw, err := io.ReadAll(r)
	require.NoError(t, err)
	root, err := html.Parse(strings.NewReader(string(raw)))
	require.NoError(t, err)
	return &sheet{t, root, string(raw)}
}

// all gives the elements with one of the names, in order; no name gives all.
func all(root *html.Node, names ...string) []*html.Node {
	var found []*html.Node
	for n := range root.Descendants() {
		if n.Type == html.ElementNode && (len(names) == 0 || slices.Contains(names, n.Data)) {
			found = append(found, n)
		}
	}
	return found
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func hasAttr(n *html.Node, name string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == name })
}

// textOf gives the text in an element as it is read: with single blanks, and a
// blank between blocks.
func textOf(n *html.Node) string {
	var b strings.Builder
	addText(&b, n)
	return strings.Join(strings.Fields(b.String()), " ")
}

func addText(b *strings.Builder, n *html.Node) {
	if n.Type == html.TextNode {
		b.WriteString(n.Data)
	}
	block := n.Type == html.ElementNode && !slices.Contains([]string{"a", "strong", "span", "small", "code", "time"}, n.Data)
	for child := range n.ChildNodes() {
		addText(b, child)
	}
	if block {
		b.WriteString(" ")
	}
}

// byID gives the element with an id, or nil.
func (s *sheet) byID(id string) *html.Node {
	for _, n := range all(s.root) {
		if attr(n, "id") == id {
			return n
		}
	}
	return nil
}

// says gives the text of the element with an id; the test fails when there is
// none.
func (s *sheet) says(id string) string {
	s.t.Helper()
	n := s.byID(id)
	require.NotNil(s.t, n, "no element has the id %q in:\n%s", id, s.text)
	return textOf(n)
}

// hidden gives the value of a hidden input in a form.
func (s *sheet) hidden(form, name string) string {
	s.t.Helper()
	f := s.byID(form)
	require.NotNil(s.t, f, "no form has the id %q in:\n%s", form, s.text)
	for _, n := range all(f, "input") {
		if attr(n, "name") == name {
			return attr(n, "value")
		}
	}
	require.Fail(s.t, "no such input", "%s in the form %s", name, form)
	return ""
}

// value gives what the input with a name holds.
func (s *sheet) value(name string) string {
	for _, n := range all(s.root, "input", "textarea") {
		if attr(n, "name") == name {
			if n.Data == "textarea" {
				return textOf(n)
			}
			return attr(n, "value")
		}
	}
	return ""
}

// sound checks what every page has to have. Sources: WCAG 2.2 success criteria
// 1.1.1, 1.3.1, 2.4.2, 2.4.4, 3.1.1 and 4.1.2, and the HTML standard on ids; our
// content security policy on inline styles and scripts.
func (s *sheet) sound(where string) {
	s.t.Helper()
	check := func(ok bool, what string, n *html.Node) {
		if !ok {
			var b strings.Builder
			_ = html.Render(&b, n)
			assert.Fail(s.t, where+": "+what, b.String())
		}
	}
	require.NotEmpty(s.t, all(s.root, "html"))
	check(attr(all(s.root, "html")[0], "lang") != "", "the language is named", all(s.root, "html")[0])
	assert.Len(s.t, all(s.root, "h1"), 1, "%s: one heading of the first rank", where)
	assert.Len(s.t, all(s.root, "main"), 1, "%s: one main part", where)
	assert.NotEmpty(s.t, textOf(all(s.root, "title")[0]), "%s: a title", where)

	ids := map[string]int{}
	labelled := map[string]bool{}
	for _, n := range all(s.root) {
		if id := attr(n, "id"); id != "" {
			ids[id]++
			check(ids[id] == 1, "an id stands once", n)
		}
		if n.Data == "label" {
			labelled[attr(n, "for")] = true
		}
	}
	for _, n := range all(s.root) {
		for _, a := range n.Attr {
			check(a.Key != "style" && !strings.HasPrefix(a.Key, "on"), "nothing inline", n)
			check(!strings.Contains(a.Val, "ZgotmplZ"), "no value was refused by the template", n)
		}
		for _, ref := range strings.Fields(attr(n, "aria-describedby") + " " + attr(n, "aria-labelledby") + " " + attr(n, "for")) {
			check(ids[ref] == 1, "what is referred to is there", n)
		}
		if target, local := strings.CutPrefix(attr(n, "href"), "#"); local {
			check(ids[target] == 1, "a link within the page leads somewhere", n)
		}
		switch n.Data {
		case "script":
			check(hasAttr(n, "src"), "no inline script", n)
		case "style":
			check(false, "no inline style", n)
		case "input", "select", "textarea":
			check(attr(n, "type") == "hidden" || labelled[attr(n, "id")], "an input has a label", n)
			check(attr(n, "name") != "", "an input has a name", n)
		case "button", "a", "legend", "label", "caption", "th", "summary", "h1", "h2", "h3":
			pictured := slices.ContainsFunc(all(n, "img"), func(img *html.Node) bool { return attr(img, "alt") != "" })
			check(textOf(n) != "" || attr(n, "aria-label") != "" || pictured, "it has a text", n)
		case "img":
			check(hasAttr(n, "alt"), "a picture has words", n)
		case "svg":
			named := attr(n, "role") == "img" && len(all(n, "title")) > 0
			check(named || attr(n, "aria-hidden") == "true" || attr(n, "role") == "group" && attr(n, "aria-label") != "", "a drawing has words or is decoration", n)
		case "form":
			check(attr(n, "method") != "post" || attr(n, "action") != "", "a form says where it goes", n)
		}
	}
	s.ranks(where)
}

// ranks checks that headings go down one rank at a time.
func (s *sheet) ranks(where string) {
	s.t.Helper()
	last := byte('0')
	for _, n := range all(s.root, "h1", "h2", "h3", "h4") {
		assert.LessOrEqual(s.t, n.Data[1], last+1, "%s: the heading %q skips a rank", where, textOf(n))
		last = n.Data[1]
	}
}
