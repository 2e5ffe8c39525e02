package desk

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

func TestAFieldOfAnEmbeddedPartIsNamedWithoutIt(t *testing.T) {
	var c message.RecordComparable
	err := json.Unmarshal([]byte(`{"age_years":"nine"}`), &c)
	assert.Equal(t, "age_years", fault.Of(readFault(err)).Field)
}
