package repair

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// project keeps the room's tables.
func project(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	if err := keepBoat(ctx, tx, e, body); err != nil {
		return err
	}
	if err := keepFinding(ctx, tx, e, body); err != nil {
		return err
	}
	if err := keepMember(ctx, tx, body); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `UPDATE repair.boat SET intake_version = $2 WHERE boat = $1 AND $3 = 'intake.boat/' || boat`, e.Boat, e.Version, e.Stream)
	return err
}

func keepBoat(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	exec := desk.Exec(ctx, tx)
	switch b := body.(type) {
	case message.BoatLogged:
		return exec(`INSERT INTO repair.boat (boat, name, type, material, intake_version) VALUES ($1, $2, $3, $4, $5) ON CONFLICT (boat) DO NOTHING`,
			b.Boat, b.Name, b.Facts.Type, b.Facts.Material, e.Version)
	case message.FactsCorrected:
		return exec(`UPDATE repair.boat SET type = $2, material = $3 WHERE boat = $1`, b.Boat, b.Facts.Type, b.Facts.Material)
	case message.BoatAccepted:
		return exec(`UPDATE repair.boat SET accepted = true WHERE boat = $1`, b.Boat)
	case message.BoatReceived:
		return exec(`UPDATE repair.boat SET received = true WHERE boat = $1`, b.Boat)
	case message.BoatDeclined:
		return exec(`UPDATE repair.boat SET declined = true WHERE boat = $1`, b.Boat)
	case message.BoatHandedOver:
		return exec(`UPDATE repair.boat SET departed = true WHERE boat = $1`, b.Boat)
	case message.BoatSold:
		return exec(`UPDATE repair.boat SET departed = true WHERE boat = $1`, b.Boat)
	}
	return nil
}

func keepFinding(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.DefectFound:
		_, err := tx.Exec(ctx, `
			INSERT INTO repair.finding (boat, finding, noted, zone, side, face, part, defect, severity, load_bearing, same_as)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) ON CONFLICT (boat, finding) DO NOTHING`,
			b.Boat, b.Finding, e.Position, b.Place.Zone, b.Place.Side, b.Place.Face, b.Place.Part, b.Defect, b.Severity, b.LoadBearing, b.SameAs)
		return err
	case message.DefectWithdrawn:
		_, err := tx.Exec(ctx, `UPDATE repair.finding SET withdrawn = $3 WHERE boat = $1 AND finding = $2`, b.Boat, b.Finding, b.Why)
		return err
	}
	return nil
}

func keepMember(ctx context.Context, tx pgx.Tx, body message.Body) error {
	keep := func(id people.ID) error {
		_, err := tx.Exec(ctx, `INSERT INTO repair.member (person) VALUES ($1) ON CONFLICT DO NOTHING`, id)
		return err
	}
	switch b := body.(type) {
	case message.PersonRegistered:
		if b.Sort == message.MemberSort {
			return keep(b.Person)
		}
	case message.RoleGiven:
		return keep(b.Person)
	case message.PersonErased:
		_, err := tx.Exec(ctx, `DELETE FROM repair.member WHERE person = $1`, b.Person)
		return err
	}
	return nil
}

// hullOf gives what the intake room says of a boat.
func (s *service) hullOf(ctx context.Context, id boat.ID) (*hull, error) {
	h := hull{}
	err := s.Pool.QueryRow(ctx, `
		SELECT name, type, material, accepted, received, declined, departed, intake_version FROM repair.boat WHERE boat = $1`, id).
		Scan(&h.name, &h.kind, &h.material, &h.accepted, &h.received, &h.declined, &h.departed, &h.intakeVersion)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, desk.Unknown("boat", "the club's book has no boat under this id")
	}
	if err != nil {
		return nil, err
	}
	rows, err := s.Pool.Query(ctx, `
		SELECT finding, zone, side, face, part, defect, severity, load_bearing, same_as, withdrawn
		FROM repair.finding WHERE boat = $1 ORDER BY noted, finding`, id)
	if err != nil {
		return nil, err
	}
	h.findings, err = pgx.CollectRows(rows, scanFinding)
	return &h, err
}

func scanFinding(row pgx.CollectableRow) (finding, error) {
	var f finding
	err := row.Scan(&f.id, &f.place.Zone, &f.place.Side, &f.place.Face, &f.place.Part, &f.defect, &f.severity, &f.loadBearing, &f.sameAs, &f.withdrawn)
	return f, err
}

// isMember says whether the club knows a person as a member.
func (s *service) isMember(ctx context.Context, id people.ID) (bool, error) {
	var known bool
	err := s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM repair.member WHERE person = $1)`, id).Scan(&known)
	return known, err
}
