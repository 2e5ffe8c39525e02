package matching

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// shuffleSetting makes the test binary solve one round, its lists shuffled with
// this number, print the solution and end.
const shuffleSetting = "REFLOAT_TEST_SHUFFLE"

// variedDraw is a round in which some boats fit some households and some fit
// nobody, with many ties.
func variedDraw() draw {
	d := drawOf(24, 60)
	types := []boat.Type{boat.Canoe, boat.SitInside, boat.SitOnTop}
	for i := range d.crafts {
		f := &d.crafts[i].facts
		f.Type, f.RatedLoadG, f.Seats, f.LengthMM = types[i%3], 140_000+20_000*(i%5), 1+i%3, 3200+300*(i%7)
	}
	for i := range d.asks {
		w := &d.asks[i].wish
		d.asks[i].tier, w.Types, w.StorageMM = 1+i%3, types[i%3:], 4000+500*(i%4)
		w.GearG = 5000 + 1000*(i%8)
		if i%4 == 0 {
			w.Children = nil
		}
	}
	return d
}

// told is all that a solution says, the households' own reasons included.
func told(t require.TestingT, d draw) string {
	s, err := d.solve()
	require.NoError(t, err)
	text, err := message.Canonical(struct {
		Solved  message.RoundSolved `json:"solved"`
		Reasons map[string][]string `json:"reasons"`
	}{s.RoundSolved, s.reasons})
	require.NoError(t, err)
	return string(text)
}

// The same round in other processes, with its lists in another order and another
// number of processors, has the same pairs, prices and reasons to the byte.
func TestOtherProcessesComeToTheSame(t *testing.T) {
	if seed := os.Getenv(shuffleSetting); seed != "" {
		n, err := strconv.ParseUint(seed, 10, 64)
		require.NoError(t, err)
		d, order := variedDraw(), rand.New(rand.NewPCG(n, n))
		order.Shuffle(len(d.crafts), func(i, j int) { d.crafts[i], d.crafts[j] = d.crafts[j], d.crafts[i] })
		order.Shuffle(len(d.asks), func(i, j int) { d.asks[i], d.asks[j] = d.asks[j], d.asks[i] })
		fmt.Printf("<<%s>>", told(t, d))
		return
	}
	here := told(t, variedDraw())
	require.Contains(t, here, `"pairs":[{`)
	require.Contains(t, here, `"unserved":[{`)
	for seed, processors := range []string{"1", "2", "8"} {
		other := exec.Command(os.Args[0], "-test.run=^TestOtherProcessesComeToTheSame$", "-test.count=1")
		other.Env = append(slices.Clone(os.Environ()), shuffleSetting+"="+strconv.Itoa(seed+1), "GOMAXPROCS="+processors)
		out, err := other.CombinedOutput()
		require.NoError(t, err, "%s", out)
		assert.Contains(t, string(out), "<<"+here+">>", "GOMAXPROCS=%s", processors)
	}
}
