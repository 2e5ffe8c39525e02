package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
	"refloat.example/services/people"
)

// firstAdministrator registers the member whom the setting names, while the club
// has no administrator: somebody has to let the others in.
func (p *program) firstAdministrator(ctx context.Context) error {
	if p.cfg.Administrator == "" || !slices.Contains(p.cfg.Rooms, people.Name) {
		return nil
	}
	conn, err := p.connect(ctx, bus.Operator)
	if err != nil {
		return err
	}
	operator := &player{client: desk.Client{Conn: conn}, pool: p.pool}
	if err := operator.settle(ctx); err != nil {
		return err
	}
	var there bool
	err = p.pool.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM people.roster_role WHERE role = $1)`, who.Administrator).Scan(&there)
	if err != nil || there {
		return err
	}
	_, err = operator.client.Do(ctx, desk.Asking{By: who.Service(desk.AtMachine), Key: "first administrator"}, message.RegisterPerson{
		Person: who.ID(uuid.Must(uuid.NewV7()).String()), Sort: message.MemberSort, Consent: "by their own hand",
		Details: message.PersonDetails{Name: "First administrator", Mail: p.cfg.Administrator}, Roles: []who.Role{who.Administrator},
	})
	// The key was used: an earlier start registered them, and they have given the
	// role up since.
	if fault.Is(err, fault.Conflict) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("registering the first administrator: %w", err)
	}
	return nil
}
