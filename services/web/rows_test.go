package web

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/message"
)

func TestInWhichRowAFieldStands(t *testing.T) {
	for name, want := range map[string]int{
		"wish.adults[0].years": 0, "wish.adults[12].mass_g": 12, "wish.adults[7]": 7, "wish.adults[199][0]": 199,
		"wish.adults[200].years": -1, "wish.adults[-1].years": -1, "wish.adults[+1].years": -1, "wish.adults[01].years": -1, "wish.adults[].years": -1,
		"wish.adults[1": -1, "wish.adults[1]years": -1, "wish.adults.years": -1, "wish.children[1].years": -1, "wish.adults": -1,
	} {
		row, ok := rowIn(name, "wish.adults")
		assert.Equal(t, want >= 0, ok, name)
		if ok {
			assert.Equal(t, want, row, name)
		}
	}
}

// A stranger may send ten thousand fields, so the form is not gone through anew
// for each row that a list might have.
func TestRowsAreFoundInOnePass(t *testing.T) {
	form := url.Values{"wish.adults[0].years": {"41"}}
	work := testing.AllocsPerRun(3, func() {
		var got message.MakeRequest
		require.NoError(t, bind(form, &got, "USD", nil))
		assert.Len(t, got.Wish.Adults, 1)
	})
	assert.Less(t, work, 500.0, "no text is made for each row that a list might have")
}
