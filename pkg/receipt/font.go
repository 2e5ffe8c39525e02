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

// printable: drawn by both faces, which hold Latin, Greek and Cyrillic, and not
// a control, a mark of direction or the sign for a broken character.
func printable(buffer *sfnt.Buffer, r rune) bool {
	if r == utf8.RuneError || unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) {
		return false
	}
	for _, f := range faces() {
		if glyph, err := f.GlyphIndex(buffer, r); err != nil || glyph == 0 {
			return false
		}
	}
	return true
}
