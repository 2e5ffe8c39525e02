package intake

import (
	"context"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Who negotiates is not who valued: an opinion of what a thing is worth is worth
// less once its author has a price to defend (common practice, no source). A small
// club may not have enough hands, so that it is a rule which a club switches on.

// keepAppraiser keeps who valued a boat, or set its ceiling.
func keepAppraiser(ctx context.Context, tx pgx.Tx, body message.Body) error {
	var of boat.ID
	var by people.ID
	switch b := body.(type) {
	case message.BoatValued:
		of, by = b.Boat, b.Valuer
	case message.CeilingSet:
		of, by = b.Boat, b.By
	}
	if by == "" {
		return nil
	}
	_, err := tx.Exec(ctx, `INSERT INTO intake.appraiser (boat, person) VALUES ($1, $2) ON CONFLICT DO NOTHING`, of, by)
	return err
}

// apart says whether the club keeps this person from naming a price for the boat.
func (s *service) apart(ctx context.Context, id boat.ID, by people.ID) (apart bool, err error) {
	rule, err := s.Setting(ctx, "valuer-apart")
	if err != nil || rule != "yes" {
		return false, err
	}
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM intake.appraiser WHERE boat = $1 AND person = $2)`, id, by).Scan(&apart)
	return apart, err
}

// mayPrice keeps who valued the boat from naming its price, where the club wants
// that.
func (d deal) mayPrice() error {
	if d.apart {
		return fault.New(fault.Forbidden, "you valued this boat or set its ceiling; by the club's rule another member names and agrees the price")
	}
	return nil
}
