-- +goose Up
-- The rounds that are for one boat alone. They hold no requests.
CREATE TABLE matching.one_boat (round text PRIMARY KEY);
GRANT SELECT, INSERT, UPDATE, DELETE ON matching.one_boat TO refloat_app;
