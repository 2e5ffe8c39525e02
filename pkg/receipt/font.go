package receipt

import (
	_ "embed"
	"sync"
	"unicode"
	"unicode/utf8"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"

	"refloat.example/pkg/fault"
)

// The faces of Noto Sans, under the licence in fonts/OFL.txt.
var (
	//go:embed fonts/NotoSans-Regular.ttf
	regularFace []byte
	//go:embed fonts/NotoSans-Bold.ttf
	boldFace []byte
)

type namedText struct{ field, text string }

// scripts are those that can be set glyph by glyph, without shaping.
var scripts = []*unicode.RangeTable{unicode.Latin, unicode.Greek, unicode.Cyrillic, unicode.Common, unicode.Inherited}

// faces parses both faces once; they are compiled in, so a failure is ours.
var faces = sync.OnceValue(func() []*sfnt.Font {
	var fonts []*sfnt.Font
	for _, raw := range [][]byte{regularFace, boldFace} {
		f, err := sfnt.Parse(raw)
		if err != nil {
			panic(err)
		}
		fonts = append(fonts, f)
	}
	return fonts
})

// checkGlyphs refuses the first character that could not be printed. A missing
// glyph would be an empty box on paper, while a search in the file would still
// find the right letter.
func checkGlyphs(texts []namedText) error {
	var buffer sfnt.Buffer
	for _, t := range texts {
		// Broken UTF-8 reads as U+FFFD, which is refused below.
		for _, r := range norm.NFC.String(t.text) {
			if r != '\n' && !printable(&buffer, r) {
				return fault.Field(t.field, "%q (%U) cannot be printed: the papers set Latin, Greek and Cyrillic letters", r, r)
			}
		}
	}
	return nil
}

// printable: in one of the scripts, not a control, a mark of direction or the
// sign for a broken character, and drawn by both faces. The PDF writer reaches the first 65,536 characters only.
func printable(buffer *sfnt.Buffer, r rune) bool {
	if r > 0xFFFF || r == utf8.RuneError || !unicode.In(r, scripts...) || unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) {
		return false
	}
	for _, f := range faces() {
		if glyph, err := f.GlyphIndex(buffer, r); err != nil || glyph == 0 {
			return false
		}
	}
	return true
}
