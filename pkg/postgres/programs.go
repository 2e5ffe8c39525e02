package postgres

// Programs gives the folder of PostgreSQL's programs (pg_dump, pg_restore …):
// the given one, or the newest that is installed.
func Programs(binDir string) (string, error) {
	found, err := findInstallation(binDir, 0)
	return found.folder, err
}
