package web

import (
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"reflect"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"github.com/go-chi/httprate"
	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/people"
	"refloat.example/pkg/photo"
)

const (
	// apiAt is the address below which programs ask.
	apiAt = "/api"
	// apiPerMinute is how many requests one token, or one address without a good
	// one, may make in a minute. The count is kept per process.
	apiPerMinute = 300
	// keyHeader carries the request key: one per intent, so that sending an order
	// again does its work once.
	keyHeader = "Idempotency-Key"
)

// apiOrder is a form of the pages as a program sends it: the same command, the
// same address, the same people.
type apiOrder struct {
	name, path, title, words string
	may                      audience
	command                  desk.Commanded
}

// apiOrders is every form that gives one command and is a member's.
func apiOrders() []apiOrder {
	var all []apiOrder
	for _, a := range acts() {
		if !strings.HasPrefix(a.path, "/my/") {
			all = append(all, apiOrder{a.name, a.path, a.title, a.words, a.may, a.command()})
		}
	}
	return append(all, apiSteps()...)
}

// apiRoutes is everything that programs may ask. Orders come from the acts of the
// pages, so that no form is forgotten.
func apiRoutes() []route {
	var all []route
	for _, r := range apiReads() {
		all = append(all, get(apiAt+r.path, r.may, r.do))
	}
	all = append(all, post(apiAt+"/photos", anyMember, (*visit).apiPhoto, nil).reads(photo.MaxFile+1))
	for _, o := range apiOrders() {
		all = append(all, post(apiAt+o.path, o.may, func(v *visit) error { return v.apiOrder(o) }, nil).reads(maxForm))
	}
	return all
}

// handleAPI answers a route for programs.
func (s *Site) handleAPI(rt route) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v := &visit{Site: s, w: w, r: r, ctx: r.Context(), route: rt, status: http.StatusOK, api: true}
		if err := v.answer(); err != nil {
			v.fail(err)
		}
	}
}

// limitAPI makes what holds down how often one token, or one address without one,
// asks, over all routes together.
func (s *Site) limitAPI() func(http.Handler) http.Handler {
	limited := httprate.LimitBy(apiPerMinute, time.Minute,
		func(r *http.Request) (string, error) {
			if token := bearer(r); token != "" {
				return hashOf(token), nil
			}
			return senderOf(r), nil
		},
		httprate.WithLimitHandler(func(w http.ResponseWriter, r *http.Request) {
			v := &visit{Site: s, w: w, r: r, ctx: r.Context(), api: true}
			v.fail(fault.New(fault.Busy, "Too many requests in the last minute. Nothing was written. Wait a minute."))
		}),
	)
	return func(next http.Handler) http.Handler { return middleware.ClientIPFromXFF(proxies...)(limited(next)) }
}

// bearer gives the token that a request carries (RFC 6750, section 2.1).
func bearer(r *http.Request) string {
	scheme, token, _ := strings.Cut(r.Header.Get("Authorization"), " ")
	if !strings.EqualFold(scheme, "Bearer") {
		return ""
	}
	return strings.TrimSpace(token)
}

// recogniseToken finds out whose token a program carries. A cookie counts for
// nothing here: another site could make a browser send it.
func (v *visit) recogniseToken() error {
	token := bearer(v.r)
	if token == "" {
		return nil
	}
	now := v.Clock.Now()
	var person people.ID
	err := v.Pool.QueryRow(v.ctx, `SELECT person FROM web.api_token WHERE hash = $1 AND ends > $2`, hashOf(token), now).Scan(&person)
	if errors.Is(err, pgx.ErrNoRows) {
		return fault.New(fault.SignIn, "This token is not known or has ended. Make one on the page /tokens.")
	}
	if err != nil {
		return err
	}
	// By the day is enough to find tokens that nobody uses.
	_, err = v.Pool.Exec(v.ctx, `UPDATE web.api_token SET used = $2 WHERE hash = $1 AND (used IS NULL OR used < $3)`, hashOf(token), now, now.Add(-24*time.Hour))
	if err != nil {
		return err
	}
	return v.recogniseMember(person)
}

// apiOrder gives the command that a program sent.
func (v *visit) apiOrder(o apiOrder) error {
	key := v.r.Header.Get(keyHeader)
	if err := desk.GoodID(keyHeader, key); err != nil {
		return fault.Field(keyHeader, "the header %s is needed: one key of letters, digits and dashes for each intent", keyHeader)
	}
	data, err := v.apiBody(o)
	if err != nil {
		return err
	}
	reply, err := v.rooms.DoRaw(v.ctx, desk.Asking{By: v.Who.Actor(), Key: key}, o.command.Verb(), data)
	if err != nil {
		return err
	}
	_ = v.Heard(v.ctx, reply.Position) // a slow table is no reason to say that it failed
	return v.json(reply)
}

// apiBody reads an order and lays what the address names into it.
func (v *visit) apiBody(o apiOrder) (json.RawMessage, error) {
	raw, err := io.ReadAll(v.r.Body)
	if err != nil {
		return nil, fault.Because(fault.Invalid, err, "the order could not be read as a whole")
	}
	fields := map[string]json.RawMessage{}
	if len(raw) > 0 {
		if err := json.Unmarshal(raw, &fields); err != nil {
			return nil, fault.New(fault.Invalid, "the order is no JSON object")
		}
	}
	known := jsonFields(reflect.TypeOf(o.command))
	for _, name := range braces(o.path) {
		value, err := json.Marshal(chi.URLParam(v.r, name))
		if err != nil {
			return nil, err
		}
		if given, there := fields[name]; there && string(given) != string(value) {
			return nil, fault.Field(name, "is named otherwise in the address; leave it out here")
		}
		if known[name] {
			fields[name] = value
		}
	}
	return json.Marshal(fields)
}

// jsonFields names a command's fields as they stand in JSON.
func jsonFields(t reflect.Type) map[string]bool {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	names := map[string]bool{}
	for i := range t.NumField() {
		name := jsonName(t.Field(i))
		if name == "" {
			for inner := range jsonFields(t.Field(i).Type) {
				names[inner] = true
			}
			continue
		}
		names[name] = true
	}
	return names
}

// apiPhoto takes a photo, the body as it is, and gives the hash under which it is
// kept. add-photo ties it to a boat. With for=receipt it is kept for a booking, and no
// boat can have it.
func (v *visit) apiPhoto() error {
	into := v.photos
	switch of := v.r.URL.Query().Get("for"); of {
	case "", "boat":
	case "receipt":
		into = into.Receipts()
	default:
		return fault.Field("for", "is neither boat nor receipt")
	}
	file, err := io.ReadAll(v.r.Body)
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return photo.TooLarge()
	}
	if err != nil {
		return fault.Because(fault.Invalid, err, "the photo did not arrive as a whole")
	}
	p, err := into.Take(v.ctx, file)
	if err != nil {
		return err
	}
	return v.json(keptPhoto{p.Hash, p.Width, p.Height, len(p.Large)})
}

// keptPhoto is what a program learns of a photo that it sent.
type keptPhoto struct {
	Hash   string `json:"hash"`
	Width  int    `json:"width"`
	Height int    `json:"height"`
	Bytes  int    `json:"bytes"`
}
