package postgres

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// ClusterConfig says where a private cluster lives and how careful it is.
type ClusterConfig struct {
	// Dir is the folder of the cluster; made when it is not there. The data
	// stay in it from start to start.
	Dir string
	// BinDir holds initdb and postgres. Empty: the newest installed version of
	// at least 15, or the one that wrote the data.
	BinDir string
	// Log receives what the server says. Nil: slog.Default().
	Log *slog.Logger
	// Durable leaves PostgreSQL's own care for the disk untouched. Without it a
	// power cut loses data: only for tests.
	Durable bool
}

// Cluster is a PostgreSQL server that this process runs, reachable through a
// Unix socket only.
//
// The server ends when Stop is called, and by itself when this process dies,
// however it dies.
type Cluster struct {
	folder    *folder
	programs  installation
	passwords Passwords
	durable   bool
	log       *slog.Logger

	said     *saying
	process  *os.Process
	stopping atomic.Bool
	done     chan struct{}
	err      error // written before done is closed
}

// StartCluster makes the cluster on first use, ends what a killed process left
// behind, starts the server and returns when it answers. The context bounds
// the start only.
//
// A folder that another living process runs is refused.
func StartCluster(ctx context.Context, cfg ClusterConfig) (*Cluster, error) {
	f, err := openFolder(cfg.Dir)
	if err != nil {
		return nil, err
	}
	c := &Cluster{folder: f, durable: cfg.Durable, log: cmp.Or(cfg.Log, slog.Default())}
	if err := c.bringUp(ctx, cfg.BinDir); err != nil {
		return nil, errors.Join(err, f.close())
	}
	return c, nil
}

func (c *Cluster) bringUp(ctx context.Context, binDir string) error {
	major, err := dataMajor(c.folder.data())
	if err != nil {
		return err
	}
	if c.programs, err = findInstallation(binDir, major); err != nil {
		return err
	}
	if err := c.ensureData(ctx, major > 0); err != nil {
		return err
	}
	if err := endLeftovers(ctx, c.folder.data()); err != nil {
		return err
	}
	if err := c.launch(); err != nil {
		return err
	}
	if err := c.awaitReady(ctx); err != nil {
		c.kill()
		return err
	}
	return nil
}

// ensureData reads the passwords of a cluster that is there, or makes both.
// The passwords are written first and initdb works under another name, so that
// a crash in between leaves nothing that looks like a cluster.
func (c *Cluster) ensureData(ctx context.Context, there bool) (err error) {
	path := c.folder.passwords()
	if there {
		c.passwords, err = readPasswords(path)
		return err
	}
	c.passwords = newPasswords()
	if err := writePasswords(path, c.passwords); err != nil {
		return err
	}
	making, err := c.folder.newMaking()
	if err != nil {
		return err
	}
	if err := c.initdb(ctx, making); err != nil {
		return err
	}
	if err := os.Rename(making, c.folder.data()); err != nil {
		return fmt.Errorf("put the new database in place: %w", err)
	}
	return syncFolder(c.folder.path)
}

func (c *Cluster) initdb(ctx context.Context, data string) error {
	password, err := c.passwordFile()
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(password) }()
	args := []string{"-D", c.folder.dataFor(data), "-U", Super, "--pwfile=" + password, "--auth=scram-sha-256",
		"--locale=C.UTF-8", "--encoding=UTF8", "--data-checksums", "--no-instructions"}
	if !c.durable {
		args = append(args, "--no-sync")
	}
	cmd := c.command(ctx, "initdb", data, args...)
	defer release(cmd)
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("initdb in %s: %w: %s", data, err, lastLines(string(out), 3))
	}
	return nil
}

// passwordFile hands the superuser's password to initdb: a command line could
// be read by anybody on the machine.
func (c *Cluster) passwordFile() (string, error) {
	path := filepath.Join(c.folder.socket, "initial")
	if err := removeIfThere(path); err != nil {
		return "", err
	}
	if err := writeSynced(path, []byte(c.passwords.Super+"\n")); err != nil {
		return "", fmt.Errorf("write the first password: %w", err)
	}
	return path, c.folder.giveAway(path)
}

// command runs one of PostgreSQL's programs as the server's user, in the data
// folder, with an environment of its own.
func (c *Cluster) command(ctx context.Context, program, data string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, filepath.Join(c.programs.folder, program), args...)
	cmd.Dir = data
	if c.folder.blocked {
		// The server changes into the folder by itself. An error shows as a
		// descriptor that is not there, in the program's own words.
		cmd.Dir = "/"
		if open, err := os.Open(data); err == nil {
			cmd.ExtraFiles = []*os.File{open} // becomes descriptor 3
		}
	}
	cmd.Env = []string{"LC_ALL=C", "PATH=/usr/bin:/bin"}
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: c.folder.runAs}
	return cmd
}

// release closes what a command was handed, once it has its own copy.
func release(cmd *exec.Cmd) {
	for _, file := range cmd.ExtraFiles {
		_ = file.Close()
	}
}

// launch starts the server and the goroutine that owns it.
func (c *Cluster) launch() error {
	said, err := newSaying(c.log)
	if err != nil {
		return err
	}
	// No context: the server outlives the start.
	cmd := c.command(context.Background(), "postgres", c.folder.data(), c.settings()...)
	cmd.Stdout, cmd.Stderr = said.pipe, said.pipe
	// A ^C in the terminal is for this process, which then stops the server in
	// its turn. SIGINT at our death is PostgreSQL's fast shutdown.
	cmd.SysProcAttr.Setpgid = true
	cmd.SysProcAttr.Pdeathsig = syscall.SIGINT
	c.said, c.done = said, make(chan struct{})
	started := make(chan error)
	go c.hold(cmd, started)
	if err := <-started; err != nil {
		<-c.done
		return fmt.Errorf("start postgres: %w", err)
	}
	return nil
}

// hold starts the server and waits for its end on one operating system thread:
// the signal at the parent's death follows the thread that started the child,
// so that thread must live as long.
func (c *Cluster) hold(cmd *exec.Cmd, started chan<- error) {
	runtime.LockOSThread()
	defer close(c.done)
	err := cmd.Start()
	release(cmd)
	_ = c.said.pipe.Close() // the server has its own end now
	if err == nil {
		c.process = cmd.Process
		go c.said.listen()
	}
	started <- err
	if err != nil {
		return
	}
	err = cmd.Wait()
	<-c.said.ended
	if !c.stopping.Load() {
		//nolint:errorlint // err is nil when the server ended with code 0
		c.err = fmt.Errorf("the database server ended by itself (%v): %s", err, c.said.last())
	}
}

// settings are the server's, beside PostgreSQL's own defaults. Statements and
// details of errors are kept out of the log: they hold people's data.
func (c *Cluster) settings() []string {
	settings := []string{
		"listen_addresses=",
		"unix_socket_directories=" + c.folder.socket,
		"unix_socket_permissions=0700",
		"timezone=UTC",
		"log_timezone=UTC",
		"log_line_prefix=",
		"log_error_verbosity=terse",
		"log_min_error_statement=panic",
		"log_min_messages=warning",
	}
	if !c.durable {
		settings = append(settings, "fsync=off", "full_page_writes=off", "synchronous_commit=off",
			"wal_level=minimal", "max_wal_senders=0", "max_connections=300")
	}
	args := []string{"-D", c.folder.dataFor(c.folder.data()), "-p", "5432"}
	for _, s := range settings {
		args = append(args, "-c", s)
	}
	return args
}

// awaitReady asks until the server answers. Recovery after a crash may take a
// while: the caller's context decides for how long.
func (c *Cluster) awaitReady(ctx context.Context) error {
	for {
		err := c.ping(ctx)
		if err == nil {
			return nil
		}
		select {
		case <-c.done:
			return c.err
		case <-ctx.Done():
			return fmt.Errorf("the database server does not answer: %w", errors.Join(ctx.Err(), err))
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// ping is asked only when the pid file says "ready" (its eighth line), as
// pg_ctl does: refused connections would fill the log during a long recovery.
func (c *Cluster) ping(ctx context.Context) error {
	if !isReady(c.folder.data()) {
		return errors.New("it is still starting")
	}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, c.URL(Super, "postgres"))
	if err != nil {
		return err
	}
	return conn.Close(ctx)
}

// URL is the address of a database of the cluster for Super, Owner or App,
// password included: never log it.
func (c *Cluster) URL(user, database string) string {
	u := url.URL{
		Scheme:   "postgres",
		User:     url.UserPassword(user, c.passwords.of(user)),
		Path:     "/" + database,
		RawQuery: url.Values{"host": {c.folder.socket}, "port": {"5432"}}.Encode(),
	}
	return u.String()
}

// Prepare makes the roles and the database when they are not there and says
// how to reach it. It may be repeated.
func (c *Cluster) Prepare(ctx context.Context) (Access, error) {
	access := Access{OwnerURL: c.URL(Owner, Database), AppURL: c.URL(App, Database)}
	return access, Prepare(ctx, c.URL(Super, "postgres"), c.passwords)
}

// Pid is the process number of the server.
func (c *Cluster) Pid() int { return c.process.Pid }

// Done is closed when the server has ended, by Stop or by itself.
func (c *Cluster) Done() <-chan struct{} { return c.done }

// Err says why the server ended by itself; nil while it runs and after Stop.
func (c *Cluster) Err() error {
	select {
	case <-c.done:
		return c.err
	default:
		return nil
	}
}

// Stop ends open sessions, writes everything to disk and waits. When the
// context ends first the server is told to end at once, which costs a recovery
// at the next start but no data, and the context's error is returned. It may
// be called again.
func (c *Cluster) Stop(ctx context.Context) error {
	if c.stopping.Swap(true) {
		<-c.done
		return nil
	}
	_ = c.process.Signal(syscall.SIGINT) // fails only when it has ended
	var late error
	select {
	case <-c.done:
	case <-ctx.Done():
		late = fmt.Errorf("the database server did not stop in time and was cut short: %w", ctx.Err())
		c.kill()
	}
	return errors.Join(late, c.folder.close())
}

// kill ends the server at once and waits for it: SIGQUIT is PostgreSQL's
// immediate shutdown, which takes its children along.
func (c *Cluster) kill() {
	c.stopping.Store(true)
	_ = c.process.Signal(syscall.SIGQUIT)
	select {
	case <-c.done:
	case <-time.After(5 * time.Second):
		_ = c.process.Kill()
		<-c.done
	}
}

// lastLines gives the end of a text in one line.
func lastLines(text string, n int) string {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	return strings.Join(lines[max(0, len(lines)-n):], " | ")
}
