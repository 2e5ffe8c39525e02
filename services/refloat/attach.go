package main

import (
	"context"
	"errors"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/desk"
)

// attached is a running installation as an operator's command uses it: its rooms
// by orders, its database by reading.
type attached struct {
	*opened
	client desk.Client
	own    *program // set when nothing ran and this command started it
}

// attach finds the installation that these settings describe. When nothing runs
// in the data folder, and nothing is outside, it starts everything itself for as
// long as the command takes.
func attach(ctx context.Context, cfg config, c console) (*attached, error) {
	log := newLog(cfg, c.problems)
	a := &attached{}
	n, running := readNotice(cfg)
	if !running && cfg.NATSURL == "" {
		cfg.Listen, cfg.WatchListen = "127.0.0.1:0", ""
		a.own = newProgram(cfg, log)
		if err := a.own.start(ctx); err != nil {
			return nil, errors.Join(err, a.own.stop())
		}
		n, _ = readNotice(cfg)
	}
	access := n.Bus
	if cfg.NATSURL != "" {
		var err error
		if access, err = outsideBus(cfg, bus.Operator); err != nil {
			return nil, err
		}
	}
	conn, err := bus.Connect(ctx, bus.Operator, access, log)
	if err == nil {
		a.client = desk.Client{Conn: conn}
		a.opened, err = openBook(ctx, cfg, log)
	}
	if err != nil {
		return nil, errors.Join(err, a.detach())
	}
	return a, nil
}

// detach ends what attach began.
func (a *attached) detach() error {
	if a.client.Conn != nil {
		a.client.Conn.Close()
	}
	if a.opened != nil {
		a.close()
	}
	if a.own == nil {
		return nil
	}
	return a.own.stop()
}
