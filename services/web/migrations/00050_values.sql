-- +goose Up
-- Valuations whole, with the computation, which would make a boat's document heavy.
CREATE TABLE web.value (
    id       text   PRIMARY KEY,
    boat     text   NOT NULL,
    position bigint NOT NULL,
    doc      jsonb  NOT NULL
);
CREATE INDEX value_boat ON web.value (boat, position);
CREATE TABLE web.plan (
    id       text   PRIMARY KEY,
    position bigint NOT NULL,
    doc      jsonb  NOT NULL
);
GRANT SELECT, INSERT, UPDATE, DELETE ON web.value, web.plan TO refloat_app;
