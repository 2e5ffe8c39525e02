-- +goose Up
-- Why a boat is kept out of rounds and hand-overs; empty when it is not.
ALTER TABLE matching.boat ADD COLUMN held text NOT NULL DEFAULT '';
