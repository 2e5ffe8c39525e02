package lift

import (
	"math"
	"math/big"
	"strconv"

	"refloat.example/pkg/fault"
)

// Carrying is how many people a hull asks for. Masses are in kg.
type Carrying struct {
	Total float64 // hull and the water in it
	// TeamLimit is what one, two and three people may carry together.
	TeamLimit [3]float64
	// Team is the smallest number of people whose limit is not below Total; 0
	// where three are too few and it takes a cart.
	Team int
	// EndLift is what one person lifts at one end, the other resting on the rack
	// or the ground and the centre of mass amidships: half.
	EndLift float64
}

// teamFactors: two have two thirds of the sum of their strengths, three have
// half of it. There is none for four, who get in each other's way.
var teamFactors = [3]*big.Rat{big.NewRat(1, 1), big.NewRat(4, 3), big.NewRat(3, 2)}

// Carry compares a hull (kg) and the water left in it (litres, of 1 kg each)
// with what teams may carry where one person may lift each (kg). The numbers are
// taken for the decimals that they print as and compared without rounding, so
// that 0.4 is within 4/3 of 0.3. Faults name mass_kg, water_l or each_kg.
//
// To apply the factors to a limit of the lifting equation is our proposal; the
// equation itself does not cover carrying.
func Carry(hull, water, each float64) (Carrying, error) {
	for _, c := range []struct {
		name  string
		value float64
	}{{"mass_kg", hull}, {"water_l", water}, {"each_kg", each}} {
		if !(c.value >= 0) || math.IsInf(c.value, 1) {
			return Carrying{}, fault.Field(c.name, "must not be negative")
		}
	}
	total := new(big.Rat).Add(decimal(hull), decimal(water))
	var c Carrying
	c.Total, _ = total.Float64()
	c.EndLift = c.Total / 2
	for i, factor := range teamFactors {
		limit := new(big.Rat).Mul(factor, decimal(each))
		c.TeamLimit[i], _ = limit.Float64()
		if c.Team == 0 && total.Cmp(limit) <= 0 {
			c.Team = i + 1
		}
	}
	return c, nil
}

// decimal gives the shortest decimal number that reads as the finite x.
func decimal(x float64) *big.Rat {
	r, _ := new(big.Rat).SetString(strconv.FormatFloat(x, 'g', -1, 64))
	return r
}
