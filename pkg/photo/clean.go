package photo

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // is read
	"slices"
	"strconv"

	"golang.org/x/image/draw"
	_ "golang.org/x/image/webp" // is read

	"refloat.example/pkg/fault"
)

const (
	// MaxFile bounds a file that is sent, in bytes: three times what a telephone's
	// camera commonly makes (common practice, no source).
	MaxFile = 20 << 20
	// maxPixels bounds what a file unpacks to. A JPEG takes up to 6 bytes a pixel
	// while it is read, other formats up to 8.
	maxJPEG  = 50_000_000
	maxOther = 25_000_000
	maxSide  = 20_000

	// largeSide and smallSide are the longer sides of what is kept, in pixels.
	largeSide = 1600
	smallSide = 320
	quality   = 82
)

// formats are those that are read.
var formats = []string{"jpeg", "png", "webp"}

// A Picture is a clean photo: what is kept of one.
type Picture struct {
	Hash          string // SHA-256 of Large, in hexadecimal digits
	Large, Small  []byte // JPEG
	Width, Height int    // of Large, in pixels
}

// Clean makes a picture of a file. Errors are faults of kind Invalid that say
// what is wrong with the file, without a field.
func Clean(file []byte) (Picture, error) {
	if len(file) > MaxFile {
		return Picture{}, TooLarge()
	}
	config, format, err := image.DecodeConfig(bytes.NewReader(file))
	if err == nil && !slices.Contains(formats, format) { // another package may have registered more
		err = image.ErrFormat
	}
	if err != nil {
		return Picture{}, notAnImage(file, err)
	}
	if err := bearable(config, format); err != nil {
		return Picture{}, err
	}
	raw, _, err := image.Decode(bytes.NewReader(file))
	if err != nil {
		return Picture{}, notAnImage(file, err)
	}
	large := upright(shrink(raw, largeSide), orientation(file, format))
	var p Picture
	if p.Large, err = encode(large); err != nil {
		return p, err
	}
	if p.Small, err = encode(shrink(large, smallSide)); err != nil {
		return p, err
	}
	sum := sha256.Sum256(p.Large)
	p.Hash, p.Width, p.Height = hex.EncodeToString(sum[:]), large.Bounds().Dx(), large.Bounds().Dy()
	return p, nil
}

// TooLarge is the fault for a file of more than MaxFile bytes.
func TooLarge() error {
	return fault.New(fault.Invalid, "the file has more than %d MB; take the photo with fewer pixels", MaxFile>>20)
}

// bearable refuses what would unpack to more than can be borne.
func bearable(c image.Config, format string) error {
	most := maxOther
	if format == "jpeg" {
		most = maxJPEG
	}
	if c.Width > maxSide || c.Height > maxSide || c.Width*c.Height > most {
		return fault.New(fault.Invalid, "the picture has %d × %d pixels, more than can be taken; take the photo with fewer", c.Width, c.Height)
	}
	return nil
}

func notAnImage(file []byte, err error) error {
	switch {
	case len(file) == 0:
		return fault.New(fault.Invalid, "the file is empty")
	case isHEIC(file):
		return fault.New(fault.Invalid, "the photo is in the format HEIC, which cannot be read here; set the camera to JPEG (“most compatible”)")
	case errors.Is(err, image.ErrFormat):
		return fault.New(fault.Invalid, "the file is no photo in the formats JPEG, PNG or WebP")
	}
	return fault.New(fault.Invalid, "the photo is damaged and cannot be read")
}

// isHEIC knows the boxes with which such a file begins (ISO/IEC 14496-12, from
// memory).
func isHEIC(file []byte) bool {
	if len(file) < 12 || string(file[4:8]) != "ftyp" {
		return false
	}
	switch string(file[8:12]) {
	case "heic", "heix", "hevc", "mif1", "msf1", "avif":
		return true
	}
	return false
}

// shrink gives a copy whose longer side has at most so many pixels, on white
// where the picture lets something through. It never enlarges.
func shrink(raw image.Image, side int) *image.RGBA {
	w, h := raw.Bounds().Dx(), raw.Bounds().Dy()
	if longer := max(w, h); longer > side {
		w, h = max(1, w*side/longer), max(1, h*side/longer)
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(out, out.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.ApproxBiLinear.Scale(out, out.Bounds(), raw, raw.Bounds(), draw.Over, nil)
	return out
}

func encode(picture image.Image) ([]byte, error) {
	var out bytes.Buffer
	err := jpeg.Encode(&out, picture, &jpeg.Options{Quality: quality})
	return out.Bytes(), err
}

// Size says how large something is, for people.
func Size(bytes int) string {
	if bytes < 1_000_000 {
		return strconv.Itoa((bytes+999)/1000) + " kB"
	}
	return strconv.FormatFloat(float64(bytes)/1_000_000, 'f', 1, 64) + " MB"
}
