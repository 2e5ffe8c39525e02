// Package faulttest checks in tests that an error is the fault it should be.
package faulttest

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
)

// Want checks that err is a fault of this kind that blames this field ("" for
// none). The words of row, a table's row for instance, stand beside a failure.
func Want(t testing.TB, err error, kind fault.Kind, field string, row ...any) {
	t.Helper()
	require.Error(t, err, fmt.Sprintln(row...))
	said := fmt.Sprintln(append(row, err)...)
	f := fault.Of(err)
	assert.Equal(t, kind, f.Kind, said)
	assert.Equal(t, field, f.Field, said)
}
