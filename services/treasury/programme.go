package treasury

import (
	"context"
	"slices"
	"strings"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/settings"
)

// chooseProgramme puts a boat under a programme, or under none: at any time, because
// nothing in the books moves by it.
func (s *service) chooseProgramme(ctx context.Context, o desk.Order[message.ChooseProgramme]) (desk.Decision, error) {
	c := o.Command
	r, b, at, err := s.open(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	known, err := s.Setting(ctx, "programmes")
	switch programmes := settings.Programmes(known); {
	case err != nil:
		return desk.Decision{}, err
	case c.Programme == b.programme:
		return desk.Decision{}, desk.Conflict("programme", "%s stands so already", r.name)
	case c.Programme == "" || slices.Contains(programmes, c.Programme):
		return desk.SayAt(at, c.Boat, message.ProgrammeChosen{Boat: c.Boat, Programme: c.Programme})
	case len(programmes) == 0:
		return desk.Decision{}, fault.Field("programme", "the club has named no programmes; an administrator does so on the page of the club")
	default:
		return desk.Decision{}, fault.Field("programme", "is none of the club's programmes: %s", strings.Join(programmes, ", "))
	}
}
