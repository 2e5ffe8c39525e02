package intake

import (
	"context"

	"refloat.example/pkg/message"
)

// react destroys photos that were removed, and takes boats that have left from
// their places.
func (s *service) react(ctx context.Context, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.PhotoRemoved:
		return s.destroy(ctx, b)
	case message.BoatHandedOver:
		return s.clear(ctx, e, b.Boat)
	case message.BoatSold:
		return s.clear(ctx, e, b.Boat)
	case message.BoatRetired:
		return s.clear(ctx, e, b.Boat)
	}
	return nil
}
