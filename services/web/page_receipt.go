package web

import (
	"fmt"
	"mime"
	"mime/multipart"
	"slices"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/people"
	"refloat.example/pkg/photo"
)

// receiptReaders see the photos of receipts: a receipt may show who bought, and
// where they live.
var receiptReaders = only(people.Treasurer, people.Administrator)

func receiptRoutes() []route {
	return []route{
		get("/boats/{boat}/receipts/{entry}", receiptReaders, (*visit).boatReceipt),
		get("/stock/{bin}/receipts/{entry}", receiptReaders, (*visit).binReceipt),
	}
}

// withoutReceipts leaves out of a bin's document what the viewer may not see.
func (v *visit) withoutReceipts(b Bin) Bin {
	if receiptReaders.admits(v.Who) {
		return b
	}
	b.Moves = slices.Clone(b.Moves)
	for i := range b.Moves {
		b.Moves[i].Receipt = ""
	}
	return b
}

// receiptInput is the input for the photo of a receipt, on a form that has one.
type receiptInput struct {
	Kept bool // a photo came with what was typed before
}

// readReceipt reads a form that may bring the photo of a receipt. The photo is kept
// at once, and its hash stands in the form from then on, so that nobody has to take
// it again because something else in the form was wrong.
func (v *visit) readReceipt() error {
	kind, _, err := mime.ParseMediaType(v.r.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/form-data" {
		err := v.r.ParseForm()
		v.typed = v.r.PostForm
		if err != nil {
			return fault.Because(fault.Invalid, err, "The form could not be read; it may be too long.")
		}
		return nil
	}
	var kept *photo.Picture
	wrong, err := v.readParts("the photo", "The photo did not arrive as a whole. Nothing was written; send it again.", func(part *multipart.Part) error {
		p, err := v.readPart(v.photos.Receipts(), part, 0)
		if err == nil && p != nil {
			kept = p
		}
		return err
	})
	if err != nil {
		return err
	}
	if kept != nil {
		v.typed.Set("receipt", kept.Hash)
	}
	if len(wrong) > 0 {
		return wrong
	}
	return nil
}

const noReceipt = "No photo of a receipt was kept with this booking."

func (v *visit) boatReceipt() error {
	p, ok := in(v.boat.Parts, func(p *Part) bool { return p.Entry == v.param("entry") })
	if !ok {
		return fault.New(fault.Unknown, "This boat has no such booking.")
	}
	return v.receipt(p.Receipt)
}

func (v *visit) binReceipt() error {
	b, err := v.findBin()
	if err != nil {
		return err
	}
	m, ok := in(b.Moves, func(m *BinMove) bool { return m.Entry == v.param("entry") })
	if !ok {
		return fault.New(fault.Unknown, "This bin has no such purchase among its newest movements.")
	}
	return v.receipt(m.Receipt)
}

func (v *visit) receipt(hash string) error {
	if hash == "" {
		return fault.New(fault.Unknown, noReceipt)
	}
	data, err := v.photos.Receipts().Large(v.ctx, hash)
	if fault.Is(err, fault.Unknown) { // kept before receipts were kept apart, or sent as a boat's by a program
		data, err = v.photos.Large(v.ctx, hash)
	}
	if err != nil {
		return err
	}
	v.w.Header().Set("Cache-Control", "private, no-store")
	v.w.Header().Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", "receipt-"+hash[:8]+".jpg"))
	return v.write("image/jpeg", data)
}
