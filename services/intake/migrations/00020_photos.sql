-- +goose Up
-- Which photos use what is kept under a hash: the same picture may be sent twice.
CREATE TABLE intake.photo (
    photo text PRIMARY KEY,
    hash  text NOT NULL
);
CREATE INDEX photo_hash ON intake.photo (hash);
GRANT SELECT, INSERT, UPDATE, DELETE ON intake.photo TO refloat_app;
