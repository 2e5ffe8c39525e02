-- +goose Up
-- Which master key wraps a person's key, by fingerprint; empty for the first one
-- that this database had.
ALTER TABLE vault.person_key ADD COLUMN wrapped_by text NOT NULL DEFAULT '';

-- What blinded texts and tokens are made from, once it is no longer the master
-- key itself.
CREATE TABLE vault.root (
    name       text  PRIMARY KEY CHECK (name IN ('blind', 'token')),
    wrapped    bytea NOT NULL,
    wrapped_by text  NOT NULL
);

-- Master keys that were replaced: a copy of the keys may hold one of them.
CREATE TABLE vault.past_master_key (
    fingerprint text        PRIMARY KEY,
    until       timestamptz NOT NULL DEFAULT now()
);

GRANT SELECT ON vault.root, vault.past_master_key TO refloat_app;
