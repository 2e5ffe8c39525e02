-- +goose Up
-- Who changed since the names were opened last; see names.go.
CREATE INDEX person_position ON web.person (position);
