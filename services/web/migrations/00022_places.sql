-- +goose Up
-- Places where boats lie, and which boat lies where.
CREATE TABLE web.place (
    id       text    PRIMARY KEY,
    shed     text    NOT NULL,
    name     text    NOT NULL,
    closed   boolean NOT NULL,
    position bigint  NOT NULL,
    doc      jsonb   NOT NULL
);
ALTER TABLE web.boat ADD place text NOT NULL DEFAULT '';
CREATE INDEX boat_place ON web.boat (place) WHERE place <> '';
GRANT SELECT, INSERT, UPDATE, DELETE ON web.place TO refloat_app;
