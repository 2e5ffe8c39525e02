-- +goose Up
-- Tokens by which members' programs use the JSON API. Only the hash is kept. They
-- follow no event and stay through a rebuild.
CREATE TABLE web.api_token (
    id     text        PRIMARY KEY,
    hash   text        NOT NULL UNIQUE,
    person text        NOT NULL,
    name   text        NOT NULL, -- what the member calls it
    made   timestamptz NOT NULL,
    ends   timestamptz NOT NULL,
    used   timestamptz            -- the day of its last use, or null
);
CREATE INDEX api_token_person ON web.api_token (person);
GRANT SELECT, INSERT, UPDATE, DELETE ON web.api_token TO refloat_app;
