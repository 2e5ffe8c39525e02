package web

import (
	"fmt"
	"net/url"
	"strconv"
)

const (
	// pageLength is how many rows a page of a list shows.
	pageLength = 50
	// maxPages bounds how far a list can be turned.
	maxPages = 10_000
	// tableRows bounds a list as a table.
	tableRows = 20_000
)

// leaves is where in a list, which is shown in parts, a page stands.
type leaves struct {
	path  string
	query url.Values // what else stands in the address
	All   int        // rows of the whole list
	Page  int        // from 1
	most  int        // rows to read: of one page, or of the table all
}

// leavesOf reads which part of a list is asked for.
func (v *visit) leavesOf() leaves {
	l := leaves{path: v.r.URL.Path, query: v.r.URL.Query(), Page: 1, most: pageLength}
	if v.wantsTable() {
		l.most = tableRows
		return l
	}
	if asked, err := strconv.Atoi(l.query.Get("page")); err == nil && asked > 1 && asked < maxPages {
		l.Page = asked
	}
	return l
}

// Before is how many rows lie on the pages before this one.
func (l leaves) Before() int { return (l.Page - 1) * pageLength }

// Shown says which rows of the list are on this page; "" if all are.
func (l leaves) Shown() string {
	if l.All <= pageLength {
		return ""
	}
	return fmt.Sprintf(", %d to %d of them here", min(l.Before()+1, l.All), min(l.Before()+pageLength, l.All))
}

// Turn gives the address of another page of the list; "" when there is none.
func (l leaves) Turn(by int) string {
	page := l.Page + by
	if page < 1 || (page-1)*pageLength >= l.All {
		return ""
	}
	query := url.Values{}
	for name, value := range l.query {
		query[name] = value
	}
	query.Set("page", strconv.Itoa(page))
	return l.path + "?" + query.Encode()
}
