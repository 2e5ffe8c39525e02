package desk

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/money"
	"refloat.example/pkg/settings"
)

// Setting gives a setting of the club: what an administrator set, or its
// default.
func (d *Desk) Setting(ctx context.Context, name string) (string, error) {
	var value string
	err := d.Pool.QueryRow(ctx, `SELECT value FROM `+d.Room+`.club_setting WHERE name = $1`, name).Scan(&value)
	if errors.Is(err, pgx.ErrNoRows) {
		return settings.Default(name), nil
	}
	return value, err
}

// Currency gives the currency in which the club keeps its books.
func (d *Desk) Currency(ctx context.Context) (money.Currency, error) {
	code, err := d.Setting(ctx, "currency")
	return money.Currency(code), err
}

// SettingWhole gives a setting that is a whole number.
func (d *Desk) SettingWhole(ctx context.Context, name string) (int, error) {
	text, err := d.Setting(ctx, name)
	if err != nil {
		return 0, err
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		return 0, fmt.Errorf("the setting %s is %q, not a whole number", name, text)
	}
	return n, nil
}
