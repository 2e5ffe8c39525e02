-- +goose Up
-- What lies in the workshop's bins: one document a bin.
CREATE TABLE web.bin (
    id       text   PRIMARY KEY,
    name     text   NOT NULL,
    position bigint NOT NULL,
    doc      jsonb  NOT NULL
);
GRANT SELECT, INSERT, UPDATE, DELETE ON web.bin TO refloat_app;
