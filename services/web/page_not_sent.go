package web

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
)

func notSentRoutes() []route {
	return []route{get("/not-sent", anybody, (*visit).notSent)}
}

// notSentPage lists what is kept on the phone; a script fills it in. Its neutral
// form is shown while nothing can be reached: it knows nobody.
type notSentPage struct{ Frame }

func (v *visit) notSent() error {
	p := notSentPage{v.frame("Not sent yet")}
	if v.r.URL.Query().Get("neutral") == "yes" {
		p.Who, p.Kept, p.Neutral = Who{}, "", true
	}
	return v.show("not_sent", p)
}

// keptFor marks whose the things are that a browser keeps: the same for the same
// person, and no help in finding out who.
func keptFor(w Who) string {
	if w.Person == "" {
		return ""
	}
	sum := sha256.Sum256([]byte("kept for " + string(w.Person) + w.link))
	return hex.EncodeToString(sum[:8])
}

// serveWorker serves the script that stands between pages and network. It is at
// the root so that it reaches every page, and asked for anew each time.
func (l *look) serveWorker(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(l.worker)
}

// makeWorker writes that script: its text behind the names of what it keeps.
func (l *look) makeWorker() error {
	text, err := files.ReadFile("static/sw.js")
	if err != nil {
		return err
	}
	var kept []string
	for _, name := range []string{"style.css", "icon.svg", "keep.js", "read.js"} {
		address, err := l.asset(name)
		if err != nil {
			return err
		}
		kept = append(kept, address)
	}
	list, err := json.Marshal(kept)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(append(list, text...))
	l.worker = fmt.Appendf(nil, "const version = %q;\nconst files = %s;\n%s", hex.EncodeToString(sum[:8]), list, text)
	return nil
}
