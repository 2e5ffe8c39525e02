// Package photo takes photos in, cleans them, and keeps them.
//
// It promises that what is kept is a JPEG of its own making, no larger than
// needed, upright, and with nothing of the file that was sent but its pixels: no
// place, no time, no device, no thumbnail of before. It promises that a photo is
// durable when Save returns, and that a file which is none, or which would unpack
// to more than a machine can bear, is refused with a sentence.
//
// Photos stand in PostgreSQL under the hash of their contents. That is slower
// than files, and worth it: every process and every machine of an installation
// reaches them, they are as durable as the book beside them, one backup carries
// both, and there is no second thing to keep in step. A club has some gigabytes.
//
// A large file comes in pieces (Upload), so that a weak link loses a piece and
// not the file.
package photo
