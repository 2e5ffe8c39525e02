-- +goose Up
-- With what a member answered who adds a passkey: SHA-256 of the passkey's id and the
-- answer. The same may come again, when the order is decided anew or sent again.
ALTER TABLE people.passkey_challenge ADD COLUMN answer bytea;
