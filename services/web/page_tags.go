package web

import (
	"fmt"
	"strings"

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

// maxTags bounds the tags of a sheet.
const maxTags = 200

// tagsPage is a sheet of tags to print, and which boats and paper it is for.
type tagsPage struct {
	Frame
	Filter boatFilter
	Paper  string // a4 or letter
	Papers []Option
	Tags   []boatTag
	More   bool // there are more boats than fit a sheet
}

// boatTag is what hangs on a boat.
type boatTag struct {
	ID      boat.ID
	Name    string
	Number  string // the hull number, if it has one
	Address string
	Code    drawnCode
}

// Count says how many tags the sheet has.
func (p tagsPage) Count() string { return count(len(p.Tags), "tag", "tags") }

var tagPapers = []Option{{"letter", "Letter"}, {"a4", "A4"}}

func (v *visit) tags() error {
	q := v.r.URL.Query()
	p := tagsPage{Frame: v.frame("Tags for boats"), Papers: tagPapers, Paper: q.Get("paper")}
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
	boats, err := v.taggedBoats(p.Filter, q["boat"])
	if err != nil {
		return err
	}
	if len(boats) > maxTags {
		p.More, boats = true, boats[:maxTags]
	}
	for _, b := range boats {
		tag := boatTag{b.ID, b.Name, b.Facts.HullNumber, v.base() + tagAt + string(b.ID), drawnCode{}}
		if tag.Code, err = drawCode(tag.Address); err != nil {
			return err
		}
		p.Tags = append(p.Tags, tag)
	}
	return v.show("tags", p)
}

// taggedBoats gives the chosen boats, or without a choice those that a filter leaves
// and that are in the club's hands.
func (v *visit) taggedBoats(f boatFilter, chosen []string) ([]Boat, error) {
	if len(chosen) > maxTags {
		return nil, fault.New(fault.Invalid, "Choose %d boats at most: a sheet holds no more tags.", maxTags)
	}
	where, args := f.where()
	if len(chosen) > 0 {
		args = append(args, chosen)
		where += fmt.Sprintf(" AND id = ANY($%d)", len(args))
	}
	return findAll[Boat](v.ctx, v.Site, `
		SELECT jsonb_build_object('id', id, 'name', name, 'facts', jsonb_build_object('hull_number', doc #> '{facts,hull_number}'))
		FROM web.boat WHERE later = '' AND `+where+fmt.Sprintf(` ORDER BY lower(name), id LIMIT %d`, maxTags+1), args...)
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
