package web

import "refloat.example/pkg/boat"

// profile is the side view of a type of boat as the path of a drawing of 100 by
// 24, bow to the left. An unknown type is drawn as a plain hull.
func profile(t boat.Type) string {
	switch t {
	case boat.Canoe, boat.InflatableCanoe:
		return "M3 3 Q8 8 20 9 H80 Q92 8 97 3 Q97 17 86 19 H14 Q3 17 3 3 Z"
	case boat.SitInside:
		return "M1 9 Q20 11 38 8 L42 5 H58 L62 9 Q82 11 99 9 Q88 18 72 18 H28 Q12 18 1 9 Z"
	case boat.SitOnTop:
		return "M2 8 Q16 10 30 11 L34 14 H62 L66 10 Q84 10 98 9 Q92 19 80 19 H20 Q8 18 2 8 Z"
	case boat.Board:
		return "M2 9 Q14 13 30 13 H96 Q99 13 98 16 H30 Q12 16 2 9 Z M82 16 L86 22 L90 16 Z"
	}
	return "M3 7 Q9 3 18 9 H84 Q93 3 98 8 Q97 18 86 19 H14 Q5 18 3 7 Z"
}
