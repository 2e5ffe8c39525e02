-- +goose Up
-- The tests that an administrator waived, each with the reason, for every later
-- paper about the boat.
ALTER TABLE matching.boat ADD COLUMN waived text[] NOT NULL DEFAULT '{}';
