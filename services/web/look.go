package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
	"sync"

	"github.com/go-chi/chi/v5"

	"refloat.example/pkg/fault"
)

//go:embed templates/*.html static/*
var files embed.FS

// look is how pages look: their templates, and the files that go with them.
type look struct {
	pages  map[string]*template.Template // in English and metric units
	mu     sync.Mutex
	spoken map[voice]map[string]*template.Template // in other voices, made when first asked for
	assets map[string][]byte                       // by the name with the hash in it
	hashed map[string]string                       // plain name to the one with the hash
	worker []byte                                  // the script between pages and network
}

// shared are the templates that every page is put together with.
var shared = []string{"templates/layout.html", "templates/form.html", "templates/parts.html", "templates/parts_placing.html", "templates/parts_workshop.html", "templates/parts_value.html", "templates/parts_look.html", "templates/parts_chart.html"}

func openLook() (*look, error) {
	l := &look{spoken: map[voice]map[string]*template.Template{}, assets: map[string][]byte{}, hashed: map[string]string{}}
	if err := l.readAssets(); err != nil {
		return nil, err
	}
	if err := l.makeWorker(); err != nil {
		return nil, err
	}
	var err error
	l.pages, err = l.templates(plain)
	return l, err
}

// templates gives the template of each page in a voice.
func (l *look) templates(in voice) (map[string]*template.Template, error) {
	pages := map[string]*template.Template{}
	base, err := template.New("layout.html").Funcs(l.funcs(in)).ParseFS(files, shared...)
	if err != nil {
		return nil, fmt.Errorf("the templates of all pages: %w", err)
	}
	names, err := fs.Glob(files, "templates/page_*.html")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		page, err := template.Must(base.Clone()).ParseFS(files, name)
		if err != nil {
			return nil, fmt.Errorf("the template %s: %w", name, err)
		}
		pages[strings.TrimSuffix(strings.TrimPrefix(path.Base(name), "page_"), ".html")] = page
	}
	return pages, nil
}

// speaking gives the pages in a voice.
func (l *look) speaking(in voice) (map[string]*template.Template, error) {
	if in == plain {
		return l.pages, nil
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if pages, made := l.spoken[in]; made {
		return pages, nil
	}
	pages, err := l.templates(in)
	l.spoken[in] = pages
	return pages, err
}

// page writes a page into w.
func (l *look) page(w io.Writer, in voice, name string, data any) error {
	pages, err := l.speaking(in)
	if err != nil {
		return err
	}
	page, ok := pages[name]
	if !ok {
		return fmt.Errorf("there is no template page_%s.html", name)
	}
	if err := page.Execute(w, data); err != nil {
		return fault.Because(fault.Internal, err, "the page %s cannot be shown", name)
	}
	return nil
}

// readAssets gives each file a name that changes with its contents, so that
// browsers may keep it for ever.
func (l *look) readAssets() error {
	entries, err := fs.ReadDir(files, "static")
	if err != nil {
		return err
	}
	for _, entry := range entries {
		data, err := fs.ReadFile(files, "static/"+entry.Name())
		if err != nil {
			return err
		}
		sum := sha256.Sum256(data)
		ext := path.Ext(entry.Name())
		hashed := strings.TrimSuffix(entry.Name(), ext) + "." + hex.EncodeToString(sum[:6]) + ext
		l.hashed[entry.Name()], l.assets[hashed] = hashed, data
	}
	return nil
}

// asset gives the address of a file that goes with the pages.
func (l *look) asset(name string) (string, error) {
	hashed, ok := l.hashed[name]
	if !ok {
		return "", fmt.Errorf("there is no static/%s", name)
	}
	return "/static/" + hashed, nil
}

func (l *look) serve(w http.ResponseWriter, r *http.Request) {
	name := chi.URLParam(r, "file")
	data, ok := l.assets[name]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", mime.TypeByExtension(path.Ext(name)))
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	_, _ = w.Write(data)
}
