-- +goose Up
-- In which part somebody came into the book: a guardian signs for a minor, with every
-- request. Empty for members of whom nothing but a role is known.
ALTER TABLE matching.person ADD COLUMN sort text NOT NULL DEFAULT '';
