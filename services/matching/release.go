package matching

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/receipt"
)

// Bounds of the release text, in characters.
const (
	maxRelease        = 20_000
	maxReleaseVersion = 40
	maxReleases       = 200
)

// releases is what the stream of the club's release text adds up to.
type releases struct{ versions []message.ReleaseSet }

// Fold adds an event.
func (r *releases) Fold(_ message.Event, body message.Body) {
	if e, ok := body.(message.ReleaseSet); ok {
		r.versions = append(r.versions, e)
	}
}

// on gives the version that is signed on a day, or nil: the one whose first day is
// the latest, and of two with one first day the one that was put in last.
func (r releases) on(day clock.Date) *message.ReleaseSet {
	var found *message.ReleaseSet
	for i, v := range r.versions {
		if !day.Before(v.From) && (found == nil || !v.From.Before(found.From)) {
			found = &r.versions[i]
		}
	}
	return found
}

func (r releases) may(c message.SetRelease, today clock.Date) error {
	switch {
	case strings.TrimSpace(c.Version) == "":
		return fault.Field("version", "give the version a name, such as 2026-2")
	case slices.ContainsFunc(r.versions, func(v message.ReleaseSet) bool { return v.Version == c.Version }):
		return fault.Field("version", "a text under this name was put in before, and may have been signed; choose another name")
	case c.From.Before(today): // or it would change what was signed before it was there
		return fault.Field("from", "choose today or a later day")
	case strings.TrimSpace(c.Text) == "":
		return fault.Field("text", "put in the text that households sign")
	case len(r.versions) >= maxReleases:
		return desk.Conflict("version", "the book holds at most %d versions of the release text", maxReleases)
	}
	return desk.First(line("version", c.Version, maxReleaseVersion), text("text", c.Text, maxRelease))
}

func (s *service) setRelease(ctx context.Context, o desk.Order[message.SetRelease]) (desk.Decision, error) {
	c := o.Command
	c.Version, c.Text = strings.TrimSpace(c.Version), strings.ReplaceAll(c.Text, "\r\n", "\n")
	r, at, err := desk.Load[releases](ctx, s.Log, message.MatchingRelease)
	if err == nil {
		err = r.may(c, o.Today())
	}
	if err != nil {
		return desk.Decision{}, err
	}
	sum := sha256.Sum256([]byte(c.Text))
	set := message.ReleaseSet{Version: c.Version, From: c.From, Text: c.Text, SHA256: hex.EncodeToString(sum[:])}
	if err := printable(set, o.Today()); err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", set)
}

// printable wants a text that the hand-over's sheet can show, before it is signed.
func printable(set message.ReleaseSet, today clock.Date) error {
	_, err := receipt.RenderSheet(receipt.Sheet{Format: receipt.Letter, Language: "en", Title: "Release text", Issued: today, Notes: releaseNotes(set, message.SignedByAdult)})
	if fault.Is(err, fault.Invalid) {
		err = fault.Field("text", "%s", fault.Of(err).Text)
	}
	return err
}

// releaseOn gives the name of the version that is signed on a day, and its text
// where it stands in the book.
func (s *service) releaseOn(ctx context.Context, day clock.Date) (version string, set *message.ReleaseSet, at ledger.Expected, err error) {
	r, at, err := desk.Load[releases](ctx, s.Log, message.MatchingRelease)
	if err != nil {
		return "", nil, at, err
	}
	if set = r.on(day); set != nil {
		return set.Version, set, at, nil
	}
	version, err = s.Setting(ctx, "release-text")
	return version, nil, at, err
}

func (s *service) readReleases(ctx context.Context, _ desk.Caller, _ message.ReadReleases) (message.Releases, error) {
	r, _, err := desk.Load[releases](ctx, s.Log, message.MatchingRelease)
	a := message.Releases{Versions: append([]message.ReleaseSet{}, r.versions...)}
	if now := r.on(clock.DateOf(s.Clock.Now())); now != nil {
		a.InForce = now.Version
	}
	return a, err
}

// signedBy says who signs for a request.
func (h handing) signedBy() string {
	if h.guardian || h.request.forMinor {
		return message.SignedByGuardian
	}
	return message.SignedByAdult
}
