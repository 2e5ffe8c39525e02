-- +goose Up
-- The year of a volunteer's costs of which a paper speaks in place of a boat, and the paper that
-- spoke of a cost last. Rows from before are right after a rebuild.
ALTER TABLE treasury.paper
    ADD COLUMN costs_of int NOT NULL DEFAULT 0;
ALTER TABLE treasury.volunteer_cost
    ADD COLUMN paper text NOT NULL DEFAULT '';
