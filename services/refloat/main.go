// Command refloat keeps a paddling club's book of boats: what came in, what was
// found and mended, what it is worth, and who has it now.
//
// `refloat help` lists what it does; `refloat help serve` shows how to start it.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"syscall"

	"refloat.example/services/refloat/calc"
)

// Exit codes. A check that did not hold is 1; a command line or an input that
// cannot be used is 2.
const (
	exitOK      = 0
	exitRefused = 1
	exitUsage   = 2
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], console{os.Stdin, os.Stdout, os.Stderr, os.Getenv})
	stop()
	os.Exit(code)
}

// console is what a command reads and writes.
type console struct {
	in       io.Reader
	out      io.Writer
	problems io.Writer
	env      func(string) string
}

func (c console) complain(err error) int {
	fmt.Fprintln(c.problems, "refloat:", err)
	return exitRefused
}

// A command is one word behind refloat.
type command struct {
	name    string
	summary string
	detail  string
	example string
	run     func(ctx context.Context, args []string, c console) int
}

// commands in the order in which help lists them. It is filled by init, because
// help itself reads it.
var commands []command

func init() {
	commands = []command{
		{"serve", "run the rooms and the pages until Ctrl-C", serveDetail, "refloat serve --data /var/lib/refloat --listen 127.0.0.1:8480", serve},
		{"migrate", "bring the database up to date and stop", "Every start does this too; it is for those who want it done before.", "refloat migrate", migrate},
		{"import", "bring the club's own lists in", importDetail, "refloat import boats fleet.csv --dry-run", importFile},
		{"boat", "show a boat's history across all rooms", boatDetail, "refloat boat history Heron", boatCommand},
		{"verify", "check the book from the first event to the last", verifyDetail, "refloat verify", verify},
		{"prove", "write a proof that an event, or an older checkpoint, stands in the book", proveDetail, "refloat prove US-2026-0001 --out US-2026-0001.proof.txt", prove},
		{"check", "check such a proof, on any machine", checkDetail, "refloat check US-2026-0001.proof.txt --paper US-2026-0001.pdf --key keys.txt", checkCommand},
		{"papers", "list a year's gifts with their papers, issue those that are ready, or check the numbers", papersDetail, "refloat papers 2026", papers},
		{"signing-key", "show or replace the key that signs the book's checkpoints", signingKeyDetail, "refloat signing-key show", signingKey},
		{"rebuild", "fill the read tables anew from the book", "Without words all rooms of this installation; with words only those named. The new tables are filled beside the old ones, which serve until the new ones take their place.", "refloat rebuild web matching", rebuild},
		{"skip", "let a stopped room go on without an event that it cannot take", skipDetail, `refloat skip valuation 417 --why "the program cannot read an old price; mended in the next version"`, skip},
		{"backup", "copy the database, the files, the settings and the keys, while everything runs", backupDetail, "refloat backup /mnt/usb/refloat --keys-to /mnt/safe/refloat-keys", backup},
		{"restore", "make a new installation from a backup, and check it", restoreDetail, "refloat restore /mnt/usb/refloat/2026-04-01T120000Z --keys-from /mnt/safe/refloat-keys --data /var/lib/refloat-new", restore},
		{"rotate-master-key", "replace the key that wraps the persons' keys", rotateDetail, "refloat rotate-master-key", rotateMasterKey},
		{"nats-users", "print the users of an outside NATS, with what each may say and hear", natsUsersDetail, "refloat nats-users secrets/nats-users.json >secrets/users.conf", natsUsers},
		{"export", "write the whole book into a file that others can read and check", exportDetail, "refloat export book-2026.jsonl.gz", export},
		{"status", "say how far each room has heard the book, and how the running process does", statusDetail, "refloat status --table", status},
		{"play", "play the demonstration club into a running installation", "Repeating it changes nothing. It is what serve --demo does by itself.", "refloat play testdata/demo", playCommand},
		{"calc", "run one of the book's calculations by itself", "One JSON object a line in, one a line out. refloat calc --list names them, refloat calc NAME --explain explains one.", `echo '{"hin":"XYZ12345L495"}' | refloat calc hin`, func(_ context.Context, args []string, c console) int {
			return calc.Main(args, c.in, c.out, c.problems)
		}},
		{"help", "explain a command, or all settings", "", "refloat help settings", help},
	}
}

func run(ctx context.Context, args []string, c console) int {
	if len(args) == 0 {
		help(ctx, nil, c)
		return exitUsage
	}
	i := slices.IndexFunc(commands, func(cmd command) bool { return cmd.name == args[0] })
	if i < 0 {
		fmt.Fprintf(c.problems, "refloat: there is no command %q; refloat help lists them\n", args[0])
		return exitUsage
	}
	return commands[i].run(ctx, args[1:], c)
}
