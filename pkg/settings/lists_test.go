package settings

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
)

func TestListsInSettings(t *testing.T) {
	got, err := Materials(" ABS sandwich 20;aluminium -15; ")
	require.NoError(t, err)
	assert.Equal(t, map[boat.Material]int{boat.ABSSandwich: 20, boat.Aluminium: -15}, got)
	for _, bad := range []string{"tin 5", "aluminium", "aluminium x", "aluminium -100", "aluminium 1; aluminium 2"} {
		_, err := Materials(bad)
		assert.Error(t, err, bad)
	}
	shares, err := CostShares("70 at 10.00; 30 at 40", "USD")
	require.NoError(t, err)
	assert.Equal(t, []CostShare{{70, 1000}, {30, 4000}}, shares)
	for _, bad := range []string{"70 at 10.00", "70; 30", "x at 1; 100 at 2", "100 at -1", "100 at 5.00 EUR", "0 at 1; 100 at 1"} {
		_, err := CostShares(bad, "USD")
		assert.Error(t, err, bad)
	}
	none, err := CostShares("", "USD")
	assert.NoError(t, err)
	assert.Nil(t, none)
	assert.NoError(t, noneOr(whole(0, 9))(None))
	assert.NoError(t, noneOr(whole(0, 9))("9"))
	assert.Error(t, noneOr(whole(0, 9))("10"))
}
