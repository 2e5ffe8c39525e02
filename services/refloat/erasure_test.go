package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
	"refloat.example/services/refloat/importer"
)

// A donor of the demonstration club is erased while everything runs. Before it her
// name can be read through the room that has it. After it the book is whole, nobody
// opens what was sealed for her, and her name stands in no table, dump, file of
// database, log of it or stream, and in no line that the program logs.
func TestWhoIsErasedStandsNowhere(t *testing.T) {
	t.Parallel()
	i := newInstallation(t, "REFLOAT_LOG_LEVEL=debug")
	serve := i.start("serve", "--demo", demoFolder)
	require.Eventually(t, serve.ready, 2*time.Minute, 50*time.Millisecond, "%s", serve.out)
	donor := people.ID(importer.ID("person", "umberfield"))
	before := i.readPerson(donor)
	require.Equal(t, canaryNames[0], before.Details.Name, "the canary is there to be found")
	eraseAsOperator(t, i, donor)
	require.Eventually(t, func() bool { return erasedWhileRunning(i, donor) }, time.Minute, 50*time.Millisecond)

	after := i.readPerson(donor)
	assert.Equal(t, message.PersonRead{Person: donor, Sort: message.DonorSort, Erased: true}, after)
	_, problems, code := i.run("verify")
	require.Equal(t, exitOK, code, problems)
	assert.Equal(t, 0, i.opensFor(donor), "what was sealed for her opens")
	for _, canary := range append([]string{"umberfield.example"}, canaryNames...) {
		assert.NotContains(t, serve.out.String(), canary, "in the program's log")
	}
	serve.interrupt()
	noNameInClear(t, i)
	_, problems, code = i.run("rebuild")
	require.Equal(t, exitOK, code, problems)
	noNameInClear(t, i)
}

// asOperator gives a client of a running installation.
func (i *installation) asOperator() (desk.Client, func()) {
	i.t.Helper()
	raw, err := os.ReadFile(filepath.Join(i.data(), "running.json"))
	require.NoError(i.t, err)
	var n notice
	require.NoError(i.t, json.Unmarshal(raw, &n))
	conn, err := bus.Connect(i.t.Context(), bus.Operator, n.Bus, quietLog())
	require.NoError(i.t, err)
	return desk.Client{Conn: conn}, conn.Close
}

func (i *installation) readPerson(id people.ID) message.PersonRead {
	i.t.Helper()
	client, hangUp := i.asOperator()
	defer hangUp()
	read, err := desk.Ask[message.PeopleRead](i.t.Context(), client, desk.Asking{By: desktest.Operator}, message.ReadPeople{IDs: []people.ID{id}})
	require.NoError(i.t, err)
	require.Len(i.t, read.People, 1)
	return read.People[0]
}

// erasedWhileRunning says whether the people room has done what an erasure asks of
// it.
func erasedWhileRunning(i *installation, id people.ID) bool {
	return erasedIn(i.t, i, id) && i.readPerson(id).Erased
}

// opensFor counts the sealed parts of the book that open for a person.
func (i *installation) opensFor(id people.ID) (opened int) {
	i.t.Helper()
	cfg, _, err := readConfig("test", nil, i.setting, nil, nil)
	require.NoError(i.t, err)
	b, err := openBook(i.t.Context(), cfg, quietLog())
	require.NoError(i.t, err)
	defer b.close()
	v, err := openVault(i.t.Context(), cfg, b.pool)
	require.NoError(i.t, err)
	found := 0
	require.NoError(i.t, b.reader().Each(i.t.Context(), 0, 0, func(e message.Event) error {
		if !strings.Contains(string(e.Data), string(id)) {
			return nil
		}
		var body any
		if err := json.Unmarshal(e.Data, &body); err != nil {
			return err
		}
		for _, sealed := range sealedIn(body) {
			found++
			var any json.RawMessage
			if v.Unseal(i.t.Context(), string(id), message.SealDetails, vault.Sealed(sealed), &any) == nil {
				opened++
			}
		}
		return nil
	}))
	require.Positive(i.t, found, "sealed parts stand in the book")
	return opened
}

// sealedIn gives every sealed part of a payload.
func sealedIn(v any) (all []string) {
	switch v := v.(type) {
	case map[string]any:
		for _, inner := range v {
			all = append(all, sealedIn(inner)...)
		}
	case []any:
		for _, inner := range v {
			all = append(all, sealedIn(inner)...)
		}
	case string:
		if strings.HasPrefix(v, "v1.") {
			all = append(all, v)
		}
	}
	return all
}
