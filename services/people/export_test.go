package people

import (
	"context"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/mail"
)

// CheckpointOffice gives one look at whether the auditor is to get a checkpoint; in
// the room at work an hour lies between two.
func CheckpointOffice(d *desk.Desk, sender mail.Sender) func(context.Context) error {
	return (&service{d, Config{Mail: sender}}).mailCheckpoint
}
