// Package desk is the counter at which a room takes orders: the part that is the
// same in every room.
//
// It takes commands and questions from the bus, finds out who asks and whether
// they may, waits until the room has heard what the sender has seen, answers a
// repeated request like the first time, lets the room decide, writes the events,
// and decides again when somebody else wrote meanwhile. It keeps the room's read
// tables in step with the book, a batch and its cursor in one transaction, and
// lets the room react to other rooms' events, each exactly once as far as the
// book is concerned.
//
// A room adds: what it decides (pure), what it shows (its tables), and what it
// says.
package desk
