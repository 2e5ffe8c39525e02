// Package postgres is how Refloat gets at its database: a private PostgreSQL
// cluster when the operator gave none, the two roles, connection pools and
// migrations.
//
// It promises that a private cluster never outlives the process that started
// it for long, that a new start after any kind of crash takes the same data
// up again, and that several processes may prepare and migrate one database
// at the same time. It does not promise backups or replicas, it opens no TCP
// port, and it runs on Linux only.
//
// Whether the database is private or the operator's, the rest of the program
// sees the same thing: an Access, that is one URL for the owner role (it
// migrates) and one for the application role (it does everything else).
package postgres
