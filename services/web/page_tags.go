package web

import (
	"fmt"
	"strings"
	"sync"

	"github.com/jackc/pgx/v5"
	"github.com/skip2/go-qrcode"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
)

// tagAt begins the address that stands on a boat's tag.
const tagAt = "/tag/"

func tagRoutes() []route {
	return []route{
		get("/boats/tags", anyMember, (*visit).tags),
		get(tagAt+"{tag}", anybody, (*visit).tag),
	}
}

// tagPage is what somebody reads who is not signed in and scanned a tag. It is the
// same for every tag, also for one that the book does not have.
type tagPage struct {
	Frame
	Contact string
	Next    string
}

// tag opens the boat of a tag for members; a boat that came back stands under its
// newest entry. Everybody else is told whom to write to.
func (v *visit) tag() error {
	if v.Who.Member() {
		b, err := v.findBoat(v.param("tag"))
		for steps := 0; err == nil && b.Later != "" && steps < 20; steps++ {
			b, err = v.findBoat(string(b.Later))
		}
		if err != nil {
			return err
		}
		return v.goTo("/boats/"+string(b.ID), "")
	}
	p := tagPage{Frame: v.frame("You found a boat"), Next: v.r.URL.Path}
	for _, name := range []string{"contact", "address"} {
		if text, err := v.Setting(v.ctx, name); err == nil && text != "" {
			p.Contact = strings.ReplaceAll(text, ";", ",")
			break
		}
	}
	return v.show("tag", p)
}

// maxTags bounds the boats that can be chosen one by one.
const maxTags = 200

// tagsPage is tags to print, as many as a page of a list has rows, and which boats
// and paper they are for.
type tagsPage struct {
	Frame
	leaves
	Filter boatFilter
	Paper  string // a4 or letter
	Papers []Option
	Tags   []boatTag
}

// boatTag is what hangs on a boat.
type boatTag struct {
	ID      boat.ID
	Name    string
	Number  string // the hull number, if it has one
	Address string
	Code    drawnCode
}

// Count says how many tags there are, and which of them are on this page.
func (p tagsPage) Count() string { return count(p.All, "tag", "tags") + p.Shown() }

var tagPapers = []Option{{"letter", "Letter"}, {"a4", "A4"}}

func (v *visit) tags() error {
	q := v.r.URL.Query()
	p := tagsPage{Frame: v.frame("Tags for boats"), leaves: v.leavesOf(), Papers: tagPapers, Paper: q.Get("paper")}
	if p.Paper == "" {
		format, _ := v.Setting(v.ctx, "paper-format") // without it, the first
		p.Paper = strings.ToLower(format)
	}
	if p.Paper != "a4" {
		p.Paper = "letter"
	}
	var err error
	if p.Filter, err = filterFrom(q); err != nil {
		return err
	}
	if err = v.readTags(&p, q["boat"]); err != nil {
		return err
	}
	return v.show("tags", p)
}

// readTags reads the page's part of the chosen boats, or without a choice of those
// that its filter leaves, without entries that go on under a newer one.
func (v *visit) readTags(p *tagsPage, chosen []string) error {
	if len(chosen) > maxTags {
		return fault.New(fault.Invalid, "Choose %d boats at most, or all of a list.", maxTags)
	}
	where, args := p.Filter.where()
	if len(chosen) > 0 {
		args = append(args, chosen)
		where += fmt.Sprintf(" AND id = ANY($%d)", len(args))
	}
	rows, err := v.Pool.Query(v.ctx, fmt.Sprintf(`
		SELECT id, name, coalesce(doc #>> '{facts,hull_number}', ''), count(*) OVER () FROM web.boat WHERE later = '' AND %s
		ORDER BY lower(name), id OFFSET %d LIMIT %d`, where, p.Before(), p.most), args...)
	if err != nil {
		return err
	}
	p.Tags, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (tag boatTag, err error) {
		if err := row.Scan(&tag.ID, &tag.Name, &tag.Number, &p.All); err != nil {
			return tag, err
		}
		tag.Address = v.base() + tagAt + string(tag.ID)
		tag.Code, err = v.codes.draw(tag.Address)
		return tag, err
	})
	return err
}

// base is how the pages' addresses begin for somebody outside.
func (v *visit) base() string {
	if base := strings.TrimSuffix(v.cfg.BaseURL, "/"); base != "" {
		return base
	}
	return "http://" + v.r.Host
}

// drawnCode is a QR code (ISO/IEC 18004) as the path of a drawing, in modules. The
// quiet zone of four modules is part of the square.
type drawnCode struct {
	Side int
	Path string
}

// mostCodes bounds the codes that are kept drawn, of some 4 kB each.
const mostCodes = 4000

// drawnCodes keeps codes as they were drawn: a tag's never changes, and drawing fifty takes
// longer than all else of their page.
type drawnCodes struct {
	mu   sync.Mutex
	kept map[string]drawnCode
}

func (d *drawnCodes) draw(text string) (drawnCode, error) {
	d.mu.Lock()
	code, known := d.kept[text]
	d.mu.Unlock()
	if known {
		return code, nil
	}
	code, err := drawCode(text)
	if err != nil {
		return code, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.kept == nil || len(d.kept) >= mostCodes {
		d.kept = map[string]drawnCode{}
	}
	d.kept[text] = code
	return code, nil
}

// drawCode draws a text as a QR code that can still be read when 15 % of it are
// scratched or dirty (level M).
func drawCode(text string) (drawnCode, error) {
	code, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		return drawnCode{}, fault.Because(fault.Internal, err, "The code for a tag could not be drawn.")
	}
	var path strings.Builder
	modules := code.Bitmap()
	for y, cells := range modules {
		for x := 0; x < len(cells); x++ {
			from := x
			for x < len(cells) && cells[x] {
				x++
			}
			if x > from {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", from, y, x-from, x-from)
			}
		}
	}
	return drawnCode{len(modules), path.String()}, nil
}
