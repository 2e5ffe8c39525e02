-- +goose Up
-- What people are called, sealed under their own keys, for the sheets that name
-- them. Erasing somebody takes the row.
CREATE TABLE intake.name (
    person text PRIMARY KEY,
    sealed text NOT NULL
);
GRANT SELECT, INSERT, UPDATE, DELETE ON intake.name TO refloat_app;
