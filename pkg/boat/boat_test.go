package boat_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/boat"
)

func TestTypesStandInASentence(t *testing.T) {
	named := make([]string, len(boat.Types))
	for i, of := range boat.Types {
		named[i] = of.WithArticle()
	}
	assert.Equal(t, []string{
		"a canoe", "a sit-inside kayak", "a sit-on-top kayak", "a board", "an inflatable kayak", "an inflatable canoe",
	}, named)
}
