package photo

import (
	"encoding/binary"
	"image"
)

// upright turns and mirrors a picture as its orientation says (Exif 2.3, tag
// 0x0112): 1 is upright, 2 to 8 are the other ways in which it can lie.
func upright(p *image.RGBA, orientation int) *image.RGBA {
	if orientation < 2 || orientation > 8 {
		return p
	}
	w, h := p.Bounds().Dx(), p.Bounds().Dy()
	turned := image.Rect(0, 0, w, h)
	if orientation >= 5 {
		turned = image.Rect(0, 0, h, w)
	}
	out := image.NewRGBA(turned)
	for y := range h {
		for x := range w {
			tx, ty := place(orientation, x, y, w, h)
			copy(out.Pix[out.PixOffset(tx, ty):][:4], p.Pix[p.PixOffset(x, y):][:4])
		}
	}
	return out
}

// place gives where a stored pixel belongs in the upright picture.
func place(orientation, x, y, w, h int) (int, int) {
	switch orientation {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return h - 1 - y, x
	case 7:
		return h - 1 - y, w - 1 - x
	}
	return y, w - 1 - x
}

// orientation reads how a picture lies; 1 when the file does not say so, or not
// so that it can be understood.
func orientation(file []byte, format string) int {
	if format != "jpeg" {
		return 1
	}
	for rest := file[min(2, len(file)):]; len(rest) >= 4 && rest[0] == 0xff; {
		marker, size := rest[1], int(binary.BigEndian.Uint16(rest[2:4]))
		if marker == 0xda || size < 2 || len(rest) < 2+size {
			return 1 // the picture itself begins, or the file is cut
		}
		segment := rest[4 : 2+size]
		if marker == 0xe1 && len(segment) > 6 && string(segment[:6]) == "Exif\x00\x00" {
			return orientationIn(segment[6:])
		}
		rest = rest[2+size:]
	}
	return 1
}

// orientationIn reads the tag from the first directory of a TIFF block (TIFF 6.0,
// section 2). Everything in it is a stranger's.
func orientationIn(tiff []byte) int {
	if len(tiff) < 8 {
		return 1
	}
	var order binary.ByteOrder
	switch string(tiff[:2]) {
	case "II":
		order = binary.LittleEndian
	case "MM":
		order = binary.BigEndian
	default:
		return 1
	}
	at := int64(order.Uint32(tiff[4:8]))
	if at+2 > int64(len(tiff)) {
		return 1
	}
	entries := tiff[at+2:]
	for range order.Uint16(tiff[at : at+2]) {
		if len(entries) < 12 {
			return 1
		}
		if order.Uint16(entries[:2]) == 0x0112 {
			if o := int(order.Uint16(entries[8:10])); o >= 1 && o <= 8 {
				return o
			}
			return 1
		}
		entries = entries[12:]
	}
	return 1
}
