-- +goose Up
-- The hull number in the spelling in which numbers are compared (pkg/hin Key), so
-- that a number is looked up while it is typed. What stands here already gets the
-- common spelling: without separators and the prefix of the United States.
ALTER TABLE web.boat ADD hull text NOT NULL DEFAULT '';
UPDATE web.boat SET hull = regexp_replace(upper(regexp_replace(doc #>> '{facts,hull_number}', '[^A-Za-z0-9]', '', 'g')), '^US(?=.{12}$)', '')
WHERE doc #>> '{facts,hull_number}' <> '';
CREATE INDEX boat_hull ON web.boat (hull) WHERE hull <> '';
