-- +goose Up
-- What the club has a boat for; "" for nothing that it named.
ALTER TABLE treasury.boat_said ADD COLUMN programme text;
