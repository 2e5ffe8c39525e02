package intake

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// project keeps the room's tables.
func project(ctx context.Context, tx pgx.Tx, _ message.Event, body message.Body) error {
	if err := keepName(ctx, tx, body); err != nil {
		return err
	}
	if err := keepAppraiser(ctx, tx, body); err != nil {
		return err
	}
	switch b := body.(type) {
	case message.CeilingSet:
		return keepCeiling(ctx, tx, b)
	case message.PersonRegistered:
		return keepPerson(ctx, tx, b.Person)
	case message.RoleGiven:
		return keepPerson(ctx, tx, b.Person)
	case message.BoatLogged:
		return keepNew(ctx, tx, b.NewGiver)
	case message.RequestMade:
		return keepNew(ctx, tx, b.NewHousehold)
	case message.PersonErased:
		_, err := tx.Exec(ctx, `DELETE FROM intake.person WHERE person = $1`, b.Person)
		return err
	case message.BoatHandedOver:
		return keepDeparted(ctx, tx, b.Boat)
	case message.BoatSold:
		return keepDeparted(ctx, tx, b.Boat)
	case message.BoatRetired:
		return keepDeparted(ctx, tx, b.Boat)
	case message.SaleTakenBack:
		_, err := tx.Exec(ctx, `DELETE FROM intake.departed WHERE boat = $1`, b.Boat)
		return err
	}
	return keepPhoto(ctx, tx, body)
}

func keepCeiling(ctx context.Context, tx pgx.Tx, b message.CeilingSet) error {
	_, err := tx.Exec(ctx, `
		INSERT INTO intake.ceiling (boat, minor, currency) VALUES ($1, $2, $3)
		ON CONFLICT (boat) DO UPDATE SET minor = excluded.minor, currency = excluded.currency`,
		b.Boat, b.Ceiling.Minor, b.Ceiling.Currency)
	return err
}

func keepPerson(ctx context.Context, tx pgx.Tx, id people.ID) error {
	_, err := tx.Exec(ctx, `INSERT INTO intake.person (person) VALUES ($1) ON CONFLICT DO NOTHING`, id)
	return err
}

func keepNew(ctx context.Context, tx pgx.Tx, introduced *message.NewPerson) error {
	if introduced == nil {
		return nil
	}
	return keepPerson(ctx, tx, introduced.Person)
}

func keepDeparted(ctx context.Context, tx pgx.Tx, id boat.ID) error {
	_, err := tx.Exec(ctx, `INSERT INTO intake.departed (boat) VALUES ($1) ON CONFLICT DO NOTHING`, id)
	return err
}

// ceiling gives a boat's newest offer ceiling, or nil when none was set.
func (s *service) ceiling(ctx context.Context, id boat.ID) (*money.Amount, error) {
	var c money.Amount
	err := s.Pool.QueryRow(ctx, `SELECT minor, currency FROM intake.ceiling WHERE boat = $1`, id).Scan(&c.Minor, &c.Currency)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	return &c, err
}

// knows says whether the club has a person in its book.
func (s *service) knows(ctx context.Context, id people.ID) (bool, error) {
	var known bool
	err := s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM intake.person WHERE person = $1)`, id).Scan(&known)
	return known, err
}

// departed says whether a boat has left the club.
func (s *service) departed(ctx context.Context, id boat.ID) (bool, error) {
	var gone bool
	err := s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM intake.departed WHERE boat = $1)`, id).Scan(&gone)
	return gone, err
}
