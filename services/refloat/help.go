package main

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
)

const serveDetail = `Starts PostgreSQL and NATS inside the data folder, unless settings name outside
ones, brings the database up to date, and serves the pages. Ctrl-C stops it
cleanly; after a crash the next start carries on where the book ends.

  --once       with --demo: play the demonstration club, print a summary as one
               JSON object, and stop
  --demo DIR   play the demonstration club into the book first`

const importDetail = `refloat import boats|people|requests|sales FILE.csv|FILE.xlsx
  --template         explain the columns, and write an example file to standard output instead
  --dry-run          say what would happen and change nothing
  --all-or-nothing   bring nothing in when any row is wrong

Every row is checked first. A bad row is named by file, line, column and reason.
The same file twice changes nothing.`

const verifyDetail = `Reads every event, checks its hash, its chain, its numbering and the head row,
and prints one JSON object. It exits 1 when something is wrong and names the
position. A book that was rewritten to its end can only be told with a head or a
signed checkpoint that was kept outside; the more of them, the closer the place is
named:

  --known POSITION:HASH   a head from an earlier verify, as often as you like
  --checkpoints PATH      checkpoints from outside: a saved mail, a file, or a copy of
                          the folder that they are published to
  --key KEY               the public key that they must be signed with, or a file of
                          keys; without it the keys that the database knows
  --from FILE             trust the newest checkpoint in FILE, and read what came after
  --boat NAME-OR-ID       check the events of one boat against the newest checkpoint
  --tree                  compare each stored hash of the tree of proofs, too

"limit" in the answer says what the check cannot tell.`

const boatDetail = `refloat boat history NAME-OR-ID prints every event about the boat in order: who, when
it was so, when it was written.

  --known-on DAY   only what was written by the end of that day (UTC)
  --about DAY      only what was so by the end of that day (UTC)

Both together say what the club knew on one day about another.`

const backupDetail = `Writes a folder named after the time into the folder that you name: the database,
photos included, the settings without passwords, a sum of each file, and a note of
the head. The keys go to another place, because together they show what each alone
does not.
That place holds only the newest copy of the keys, so that whoever was erased
stays erased after any restore; the settings with their passwords go there, too.

  --keys-to DIR   where the keys go; without it they are not copied, and a line says so`

const restoreDetail = `Makes a new private cluster in an empty data folder, or fills an empty outside
database, from a backup folder and the newest copy of the keys. Then it checks the
sums of the files, the book against the backup's head and against heads that were
noted outside, and that every person's key opens; it destroys once more the key of
everybody whom the book says was erased, fills the read tables anew, and prints
what it found. A backup that is older than a head from outside is restored, and the
number of missing events is said with exit code 1.

  --keys-from DIR         where the keys are
  --known POSITION:HASH   a head from an earlier verify, as often as you like
  --checkpoints PATH      signed checkpoints that were kept outside: a file or a folder
  --key KEY               the book's public key or a file of keys, to trust no other`

const rotateDetail = `Draws a new master key, wraps the key of every person with it and forgets the old
one, while everything runs. Killed in the middle it leaves everything readable; run
it again to finish. Copy the keys afterwards: the old copy opens nothing new.
Private links that were sent go on working, unless the old key may have come into
other hands:

  --new-links   end all private links; coordinators send new ones from the pages
  --prepare     with processes on several machines: only make the file of the next
                key, so that each can have it beside its own before the rotation;
                when it is over, run the command once on each of them`

const natsUsersDetail = `Reads FILE, {"intake":"password", …}, or makes it with fresh passwords, and prints
the authorization block for the configuration of the NATS servers. FILE is what
REFLOAT_NATS_USERS names.`

const statusDetail = `Prints one JSON object: where the book ends, how far each room has heard it, and
of a running process its health and its figures (the same as its /metrics).

  --table   lines for people instead`

func help(_ context.Context, args []string, c console) int {
	switch {
	case len(args) == 0:
		helpOverview(c)
	case args[0] == "settings":
		helpSettings(c)
	default:
		return helpCommand(args[0], c)
	}
	return exitOK
}

func helpOverview(c console) {
	fmt.Fprintln(c.out, "refloat keeps a paddling club's book of boats.\n\nCommands")
	for _, cmd := range commands {
		fmt.Fprintf(c.out, "  %-17s %s\n", cmd.name, cmd.summary)
	}
	fmt.Fprintln(c.out, "\nrefloat help COMMAND explains one and gives an example; refloat help settings lists all settings.")
}

func helpCommand(name string, c console) int {
	i := slices.IndexFunc(commands, func(cmd command) bool { return cmd.name == name })
	if i < 0 {
		fmt.Fprintf(c.problems, "refloat: there is no command %q; refloat help lists them\n", name)
		return exitUsage
	}
	cmd := commands[i]
	fmt.Fprintf(c.out, "refloat %s: %s\n", cmd.name, cmd.summary)
	if cmd.detail != "" {
		fmt.Fprintf(c.out, "\n%s\n", cmd.detail)
	}
	fmt.Fprintf(c.out, "\nExample\n  %s\n", cmd.example)
	return exitOK
}

func helpSettings(c console) {
	fmt.Fprintln(c.out, "Settings are read from the environment, then from flags. What an administrator\nchanges while it runs is on the page Club.")
	for _, s := range settings {
		fmt.Fprintf(c.out, "\n%s  --%s\n  %s\n  default: %s\n", s.env, s.flag, s.effect, cmp.Or(s.standard, "none"))
	}
	fmt.Fprintf(c.out, "\nRooms: %s\n", strings.Join(allRooms, ", "))
}
