-- +goose Up
-- What browsers are asked when they add or use a passkey: SHA-256 of the challenge,
-- until it is answered or too old.
CREATE TABLE people.passkey_challenge (
    digest bytea       PRIMARY KEY,
    person text        NOT NULL, -- who adds a passkey; empty for signing in
    until  timestamptz NOT NULL
);
CREATE INDEX ON people.passkey_challenge (until);
-- How often a passkey signed, when it did so last, and since when it is refused
-- because its count did not grow. Not made from the book: signing in is no event.
CREATE TABLE people.passkey_use (
    passkey text        PRIMARY KEY,
    person  text        NOT NULL,
    count   bigint      NOT NULL,
    used    timestamptz,
    copied  timestamptz
);
CREATE INDEX ON people.passkey_use (person);
GRANT SELECT, INSERT, UPDATE, DELETE ON people.passkey_challenge, people.passkey_use TO refloat_app;
