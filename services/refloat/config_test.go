package main

import (
	"bytes"
	"io"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSettingsAreReadFromEnvironmentThenFlags(t *testing.T) {
	env := map[string]string{"REFLOAT_LISTEN": "127.0.0.1:1", "REFLOAT_DATA": t.TempDir()}
	c, rest, err := readConfig("serve", []string{"one", "--listen=127.0.0.1:2", "two"}, func(k string) string { return env[k] }, io.Discard, nil)
	require.NoError(t, err)
	assert.Equal(t, []string{"one", "two"}, rest)
	assert.Equal(t, "127.0.0.1:2", c.Listen, "a flag beats the environment")
	assert.Equal(t, env["REFLOAT_DATA"], c.Data, "the environment beats the default")
	assert.Equal(t, "http://127.0.0.1:2", c.BaseURL)
	assert.True(t, filepath.IsAbs(c.Keys))
}

func TestAWrongSettingIsNamedWithTheReason(t *testing.T) {
	for name, row := range map[string]struct {
		args []string
		env  map[string]string
		want []string
	}{
		"no address":              {[]string{"--listen", "nowhere"}, nil, []string{"--listen", "missing port"}},
		"no such room":            {nil, map[string]string{"REFLOAT_ROOMS": "intake,attic"}, []string{"REFLOAT_ROOMS", `"attic"`}},
		"some rooms need outside": {[]string{"--rooms=intake"}, nil, []string{"--rooms", "REFLOAT_NATS_URL"}},
		"one database URL of two": {[]string{"--database-url=postgres://x/y"}, nil, []string{"REFLOAT_DATABASE_OWNER_URL"}},
		"NATS without passwords":  {[]string{"--nats-url=nats://127.0.0.1:1"}, nil, []string{"REFLOAT_NATS_USERS"}},
		"a file that is not":      {[]string{"--nats-users=/no/such/file"}, nil, []string{"--nats-users", "no such file"}},
		"two replicas":            {nil, map[string]string{"REFLOAT_NATS_REPLICAS": "2"}, []string{"REFLOAT_NATS_REPLICAS", "neither 1 nor 3"}},
		"no mail address":         {nil, map[string]string{"REFLOAT_ADMINISTRATOR": "nobody"}, []string{"REFLOAT_ADMINISTRATOR"}},
		"no base URL":             {[]string{"--base-url=boats"}, nil, []string{"--base-url", "https://"}},
		"nowhere to watch":        {[]string{"--watch-listen=8481"}, nil, []string{"--watch-listen", "missing port"}},
		"no collector":            {nil, map[string]string{"REFLOAT_TRACES_TO": "collector"}, []string{"REFLOAT_TRACES_TO", "http://"}},
		"a log format":            {[]string{"--log-format=xml"}, nil, []string{"--log-format", "text, json"}},
		"an unknown flag":         {[]string{"--colour=red"}, nil, []string{"colour"}},
	} {
		_, _, err := readConfig("serve", row.args, func(k string) string { return row.env[k] }, io.Discard, nil)
		if assert.Error(t, err, name) {
			for _, part := range row.want {
				assert.Contains(t, err.Error(), part, name)
			}
		}
	}
}

func TestHelpHasAnExampleForEachCommandAndADefaultForEachSetting(t *testing.T) {
	for _, cmd := range commands {
		var out bytes.Buffer
		require.Equal(t, exitOK, run(t.Context(), []string{"help", cmd.name}, console{nil, &out, io.Discard, noEnv}), cmd.name)
		assert.Contains(t, out.String(), "Example\n  ", cmd.name)
		assert.Contains(t, out.String(), "refloat "+cmd.name, cmd.name)
	}
	var out bytes.Buffer
	require.Equal(t, exitOK, run(t.Context(), []string{"help", "settings"}, console{nil, &out, io.Discard, noEnv}))
	for _, s := range settings {
		assert.Contains(t, out.String(), s.env+"  --"+s.flag)
	}
	assert.Equal(t, len(settings), strings.Count(out.String(), "\n  default: "))
}

func TestAnUnknownCommandIsRefused(t *testing.T) {
	var problems bytes.Buffer
	assert.Equal(t, exitUsage, run(t.Context(), []string{"sail"}, console{nil, io.Discard, &problems, noEnv}))
	assert.Contains(t, problems.String(), `no command "sail"`)
	assert.Equal(t, exitUsage, run(t.Context(), nil, console{nil, io.Discard, io.Discard, noEnv}))
}

func noEnv(string) string { return "" }
