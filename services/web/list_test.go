package web

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestAListIsTurnedLeafByLeaf(t *testing.T) {
	state := url.Values{"state": {"open"}}
	for _, c := range []struct {
		name                  string
		all, page             int
		shown, earlier, later string
	}{
		{"nothing", 0, 1, "", "", ""},
		{"one full page", pageLength, 1, "", "", ""},
		{"one row more", pageLength + 1, 1, ", 1 to 50 of them here", "", "/requests?page=2&state=open"},
		{"the last page", pageLength + 1, 2, ", 51 to 51 of them here", "/requests?page=1&state=open", ""},
		{"in the middle", 3 * pageLength, 2, ", 51 to 100 of them here", "/requests?page=1&state=open", "/requests?page=3&state=open"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := leaves{path: "/requests", query: state, All: c.all, Page: c.page}
			assert.Equal(t, c.shown, l.Shown())
			assert.Equal(t, c.earlier, l.Turn(-1))
			assert.Equal(t, c.later, l.Turn(1))
		})
	}
	assert.Equal(t, url.Values{"state": {"open"}}, state, "turning changes nobody's filter")
}
