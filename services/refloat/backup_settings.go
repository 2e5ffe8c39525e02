package main

import (
	"cmp"
	"fmt"
	"net/url"
	"strings"
)

// settingsInForce gives the settings that differ from their standard: those of the
// running process, which may have had flags, else this command's own.
func settingsInForce(cfg config) map[string]string {
	if n, running := readNotice(cfg); running && n.Settings != nil {
		return n.Settings
	}
	return cfg.given
}

// settingsText writes settings as a file of environment, in the order of the help.
func settingsText(given map[string]string, show func(string) string) string {
	var text strings.Builder
	for _, s := range settings {
		if value, ok := given[s.env]; ok {
			fmt.Fprintf(&text, "%s=%s\n", s.env, show(value))
		}
	}
	return cmp.Or(text.String(), "# every setting was as it comes\n")
}

func showSecrets(value string) string { return value }

// hideSecrets takes the password out of an address, or the whole of an address
// that it does not understand.
func hideSecrets(value string) string {
	u, err := url.Parse(value)
	switch {
	case strings.Contains(value, "password=") || strings.Contains(value, "@") && (err != nil || strings.Contains(value, ",")):
		return "" // it may hold one, who knows where
	case err != nil || u.User == nil:
		return value
	}
	if _, secret := u.User.Password(); secret {
		u.User = url.UserPassword(u.User.Username(), "")
	}
	return u.String()
}
