-- +goose Up
-- The bank's rows: sealed is message.BankWords. boat and entry name the posting that a
-- row was matched with; a row without one may be set aside, with the reason.
CREATE TABLE treasury.bank_row (
    row_id   text   PRIMARY KEY,
    on_day   date   NOT NULL,
    minor    bigint NOT NULL,
    currency text   NOT NULL,
    sealed   text   NOT NULL,
    boat     text   NOT NULL DEFAULT '',
    entry    text   NOT NULL DEFAULT '',
    aside    text   NOT NULL DEFAULT ''
);
CREATE INDEX ON treasury.bank_row (on_day);
CREATE INDEX ON treasury.bank_row (boat, entry) WHERE entry <> '';
GRANT SELECT, INSERT, UPDATE, DELETE ON treasury.bank_row TO refloat_app;
