package defects

import (
	"math"

	"refloat.example/pkg/boat"
)

// EnoughOfOthers is how many findings of others a share has to rest on before it
// is told as one. Common practice, no source.
const EnoughOfOthers = 10

// A FindRate is how much an inspector found of what others found who did not know
// their list: the share that the estimate of what was missed rests on, turned
// round. It is for learning where to look longer, and says nothing of a person:
// what others found is not all that is there, and easy findings weigh as much as
// hard ones.
type FindRate struct {
	Both   int // of the others' findings, those that the inspector has, too
	Others int // findings of the others
}

// Tells says whether there is enough to tell the share.
func (r FindRate) Tells() bool { return r.Others >= EnoughOfOthers }

// Interval gives the 95 % interval on the share, from 0 to 1. Source: E. B. Wilson,
// 1927, without correction for continuity. Nothing is known where others found
// nothing.
func (r FindRate) Interval() (low, high float64) {
	if r.Others == 0 {
		return 0, 1
	}
	k, n := float64(r.Both), float64(r.Others)
	middle, half := k+z*z/2, z*math.Sqrt(k*(n-k)/n+z*z/4)
	return max(0, (middle-half)/(n+z*z)), min(1, (middle+half)/(n+z*z))
}

// FindRates counts, by the zone in which the other noted it, how much of another
// list an inspector's own has, too. root gives what stands for all findings that
// are one.
func FindRates(own, other []Sight, root func(id string) string) map[boat.Zone]FindRate {
	has := map[string]bool{}
	for _, s := range own {
		has[root(s.ID)] = true
	}
	rates, counted := map[boat.Zone]FindRate{}, map[string]bool{}
	for _, s := range other {
		if counted[root(s.ID)] {
			continue
		}
		counted[root(s.ID)] = true
		r := rates[s.Zone]
		r.Others++
		if has[root(s.ID)] {
			r.Both++
		}
		rates[s.Zone] = r
	}
	return rates
}
