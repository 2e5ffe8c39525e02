-- +goose Up
-- Papers that bear an address at which anybody can check them. The code is the salt
-- printed on the paper; without it nothing is told.
CREATE TABLE web.lodged (
    serial      text    PRIMARY KEY,
    code        text    NOT NULL,
    digest      text    NOT NULL,
    file_digest text    NOT NULL DEFAULT '',
    issued_on   date    NOT NULL,
    position    bigint  NOT NULL, -- of the event that a proof shows
    cancelled   boolean NOT NULL DEFAULT false
);
GRANT SELECT, INSERT, UPDATE, DELETE ON web.lodged TO refloat_app;
