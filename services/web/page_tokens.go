package web

import (
	"context"
	"crypto/rand"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
)

const (
	// maxTokens bounds the tokens of one member.
	maxTokens = 10
	// maxTokenDays bounds how long one works.
	maxTokenDays = 365
	// tokenMark begins every token, so that one that got loose is recognised.
	tokenMark = "refloat-"
)

func tokenRoutes() []route {
	return []route{
		get("/tokens", anyMember, (*visit).tokensPage),
		post("/tokens", anyMember, (*visit).makeToken, (*visit).tokensPage),
		post("/tokens/{token}/end", anyMember, (*visit).endToken, nil),
	}
}

// apiToken is a token as its member sees it.
type apiToken struct {
	ID         string
	Name       string
	Made, Ends time.Time
	Used       *time.Time
	End        Form
}

// tokensPage shows a member's tokens, and a new one once.
type tokensPage struct {
	Frame
	Tokens []apiToken
	Form   Form
	New    string // shown once
	Base   string
}

func (v *visit) tokensPage() error { return v.showTokens("") }

func (v *visit) showTokens(fresh string) error {
	p := tokensPage{Frame: v.frame("Tokens for programs"), New: fresh, Base: v.cfg.BaseURL}
	rows, err := v.Pool.Query(v.ctx, `SELECT id, name, made, ends, used FROM web.api_token WHERE person = $1 AND ends > $2 ORDER BY made, id`, v.Who.Person, v.Clock.Now())
	if err != nil {
		return err
	}
	p.Tokens, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (t apiToken, err error) {
		err = row.Scan(&t.ID, &t.Name, &t.Made, &t.Ends, &t.Used)
		return t, err
	})
	if err != nil {
		return err
	}
	for i, t := range p.Tokens {
		p.Tokens[i].End = v.button("end-"+t.ID, "/tokens/"+t.ID+"/end", "End "+t.Name)
	}
	p.Form = v.form("make-token", "/tokens", "Make a token", nil, Section{Fields: []Field{
		text("name", "What it is for").Needed().With("For instance the program’s name. It tells your tokens apart."),
		number("days", "For how many days").Needed().Starts("90"),
	}})
	return v.show("tokens", p)
}

// makeToken makes a token and shows it, this once. Nothing of it is kept but its
// hash.
func (v *visit) makeToken() error {
	name := v.typed.Get("name")
	days, err := parseMeasure(v.typed.Get("days"), ones)
	if err != nil {
		return fault.Field("days", "%s", err)
	}
	var many int
	if err := v.Pool.QueryRow(v.ctx, `SELECT count(*) FROM web.api_token WHERE person = $1 AND ends > $2`, v.Who.Person, v.Clock.Now()).Scan(&many); err != nil {
		return err
	}
	err = desk.First(
		desk.Needed("name", name, "say what the token is for"), desk.OneLine("name", name, desk.MaxLine),
		desk.Within("days", int(days), 1, maxTokenDays),
	)
	if err == nil && many >= maxTokens {
		err = fault.Field("name", "you have %d tokens; end one first", many)
	}
	if err != nil {
		return err
	}
	token, now := tokenMark+rand.Text(), v.Clock.Now()
	_, err = v.Pool.Exec(v.ctx, `INSERT INTO web.api_token (id, hash, person, name, made, ends) VALUES ($1, $2, $3, $4, $5, $6)`,
		freshID(), hashOf(token), v.Who.Person, name, now, now.AddDate(0, 0, int(days)))
	if err != nil {
		return err
	}
	v.typed = nil
	return v.showTokens(token)
}

// endToken ends a token of the viewer's own.
func (v *visit) endToken() error {
	_, err := v.Pool.Exec(v.ctx, `DELETE FROM web.api_token WHERE id = $1 AND person = $2`, v.param("token"), v.Who.Person)
	if err != nil {
		return err
	}
	return v.goTo("/tokens", "token-ended")
}

func (s *Site) dropOldTokens(ctx context.Context) error {
	_, err := s.Pool.Exec(ctx, `DELETE FROM web.api_token WHERE ends <= $1`, s.Clock.Now())
	return err
}
