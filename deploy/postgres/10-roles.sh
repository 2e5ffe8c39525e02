#!/usr/bin/env bash
# Makes Refloat's two roles and its database in an outside PostgreSQL: the owner
# migrates, the application can neither change nor remove what is in the book.
#
#   REFLOAT_OWNER_PASSWORD=… REFLOAT_APP_PASSWORD=… deploy/postgres/10-roles.sh
#
# It runs psql as the superuser of the usual PG* variables and may be repeated.
set -euo pipefail
: "${REFLOAT_OWNER_PASSWORD:?set the password of refloat_owner}" "${REFLOAT_APP_PASSWORD:?set the password of refloat_app}"

export REFLOAT_OWNER_PASSWORD REFLOAT_APP_PASSWORD
# Read by psql itself: what stands behind a program's name is everybody's to read.
psql -v ON_ERROR_STOP=1 --username "${POSTGRES_USER:-postgres}" --dbname postgres <<'SQL'
\getenv owner_password REFLOAT_OWNER_PASSWORD
\getenv app_password REFLOAT_APP_PASSWORD
SELECT format('CREATE ROLE refloat_owner LOGIN PASSWORD %L', :'owner_password')
WHERE NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = 'refloat_owner') \gexec
SELECT format('CREATE ROLE refloat_app LOGIN PASSWORD %L', :'app_password')
WHERE NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = 'refloat_app') \gexec
SELECT 'CREATE DATABASE refloat OWNER refloat_owner'
WHERE NOT EXISTS (SELECT 1 FROM pg_database WHERE datname = 'refloat') \gexec
REVOKE ALL ON DATABASE refloat FROM PUBLIC;
GRANT CONNECT ON DATABASE refloat TO refloat_app;
SQL
