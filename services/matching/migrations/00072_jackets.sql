-- +goose Up
-- The life jackets that lie with a boat and are not serviceable: it is not handed
-- over with them.
ALTER TABLE matching.boat ADD COLUMN bad_jackets text[] NOT NULL DEFAULT '{}';
