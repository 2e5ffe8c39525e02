package postgres

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
)

const (
	socketName = ".s.PGSQL.5432"
	// socketLimit is the longest path of a Unix socket: sun_path holds 108
	// bytes, one of them the final zero (unix(7)).
	socketLimit = 107
)

// folder is what a private cluster keeps on disk:
//
//	lock            held by the process that runs the cluster
//	passwords.json  the three roles' passwords, 0600
//	data/           PostgreSQL's own
//	socket/         the Unix socket, unless the path would be too long
type folder struct {
	path   string
	runAs  *syscall.Credential // nil: as this process
	lock   *os.File
	socket string
	// blocked says that the server's user cannot pass through some folder above:
	// then the server is handed the data folder as an open descriptor.
	blocked bool
}

func (f *folder) data() string      { return filepath.Join(f.path, "data") }
func (f *folder) passwords() string { return filepath.Join(f.path, "passwords.json") }

// openFolder makes the folder when needed, takes its lock and finds a place
// for the socket.
func openFolder(path string) (*folder, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	runAs, err := serverUser()
	if err != nil {
		return nil, err
	}
	// Others may pass through but not look: the server's user must reach data/.
	if err := os.MkdirAll(path, 0o711); err != nil { //nolint:gosec // see above
		return nil, fmt.Errorf("make the database folder: %w", err)
	}
	f := &folder{path: path, runAs: runAs}
	f.blocked = f.enter(path) != nil
	if err := f.takeLock(); err != nil {
		return nil, err
	}
	if err := f.placeSocket(); err != nil {
		return nil, errors.Join(err, f.close())
	}
	return f, nil
}

// serverUser says as whom the server runs: PostgreSQL refuses root, so that
// root hands it to the system user postgres.
func serverUser() (*syscall.Credential, error) {
	if os.Geteuid() != 0 {
		return nil, nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		return nil, fmt.Errorf("PostgreSQL refuses to run as root and there is no system user named postgres: %w", err)
	}
	uid, err := strconv.ParseUint(u.Uid, 10, 32)
	if err != nil {
		return nil, err
	}
	gid, err := strconv.ParseUint(u.Gid, 10, 32)
	if err != nil {
		return nil, err
	}
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, nil
}

// enter tries to change into a folder as the server's user. Trying is the only
// test that also knows access lists and security modules.
func (f *folder) enter(path string) error {
	if f.runAs == nil {
		return nil
	}
	cmd := exec.Command("/bin/true")
	cmd.Dir = path
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: f.runAs}
	return cmd.Run()
}

// takeLock keeps a second process from running the same folder. The lock goes
// with the process, however that ends.
func (f *folder) takeLock() error {
	lock, err := os.OpenFile(filepath.Join(f.path, "lock"), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return fmt.Errorf("open the lock of the database folder: %w", err)
	}
	if err := syscall.Flock(int(lock.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		return errors.Join(fmt.Errorf("another process runs the database in %s: %w", f.path, err), lock.Close())
	}
	f.lock = lock
	return nil
}

// placeSocket uses the folder itself when the path is short and open enough, else
// a folder for temporary files, under a name that is the same at each start.
func (f *folder) placeSocket() error {
	sum := sha256.Sum256([]byte(f.path))
	short := fmt.Sprintf("refloat-pg-%x", sum[:6])
	for _, candidate := range []string{
		filepath.Join(f.path, "socket"),
		filepath.Join(os.TempDir(), short),
		filepath.Join("/tmp", short),
	} {
		if len(filepath.Join(candidate, socketName)) <= socketLimit && f.enter(filepath.Dir(candidate)) == nil {
			f.socket = candidate
			return f.makeOwned(candidate)
		}
	}
	return fmt.Errorf("no place for the database socket: every candidate path is longer than %d bytes or closed to the database's user", socketLimit)
}

// newMaking makes a folder for a database that is not finished, under a name of
// its own: the initdb of a killed process may still write into its own for a
// moment. Those are removed at a later start if they cannot be now.
func (f *folder) newMaking() (string, error) {
	unfinished, _ := filepath.Glob(filepath.Join(f.path, makingPrefix+"*")) // the pattern is well formed
	for _, old := range unfinished {
		_ = os.RemoveAll(old)
	}
	making, err := os.MkdirTemp(f.path, makingPrefix)
	if err != nil {
		return "", fmt.Errorf("make a folder for the database: %w", err)
	}
	return making, f.giveAway(making)
}

const makingPrefix = "data.making-"

// handed is the descriptor under which a child of ours finds the data folder
// when no path leads its user there.
const handed = "/proc/self/fd/3"

// dataFor gives the path by which the server's user reaches a data folder.
func (f *folder) dataFor(data string) string {
	if f.blocked {
		return handed
	}
	return data
}

// makeOwned makes a folder that only the server's user can use. One that is
// there already is taken only if it is such a folder: in a shared place for
// temporary files somebody else may have put a trap under that name.
func (f *folder) makeOwned(path string) error {
	err := os.Mkdir(path, 0o700)
	if errors.Is(err, fs.ErrExist) {
		return f.checkOwned(path)
	}
	if err != nil {
		return fmt.Errorf("make a folder for the database: %w", err)
	}
	return f.giveAway(path)
}

func (f *folder) checkOwned(path string) error {
	info, err := os.Lstat(path)
	if err != nil {
		return err
	}
	owner := info.Sys().(*syscall.Stat_t).Uid
	if !info.IsDir() || info.Mode().Perm() != 0o700 || owner != f.serverUID() {
		return fmt.Errorf("%s is there already, but is not a folder that belongs to the database's user alone: remove it", path)
	}
	return nil
}

func (f *folder) serverUID() uint32 {
	if f.runAs != nil {
		return f.runAs.Uid
	}
	return uint32(os.Geteuid())
}

// giveAway hands a path to the server's user.
func (f *folder) giveAway(path string) error {
	if f.runAs == nil {
		return nil
	}
	if err := os.Chown(path, int(f.runAs.Uid), int(f.runAs.Gid)); err != nil {
		return fmt.Errorf("hand %s to the database's user: %w", path, err)
	}
	return nil
}

// close gives the lock back and removes the socket's folder; a stopped server
// has removed the socket.
func (f *folder) close() error {
	if f.socket != "" {
		_ = os.Remove(f.socket) // stays when something is left in it: harmless
	}
	return f.lock.Close()
}
