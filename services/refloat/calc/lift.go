package calc

import "refloat.example/pkg/lift"

var liftCalculator = Calculator{
	Name:    "lift",
	Summary: "recommended weight limit and lifting index of one lift",
	Explain: `
Formula: RWL = LC x HM x VM x DM x AM x FM x CM; LI = load / RWL
        metric (cm, kg)            us (in, lb)
  LC    23                         51
  HM    25 / h, h to 63            10 / h, h to 25
  VM    1 - 0.003 |v - 75|         1 - 0.0075 |v - 30|, v to 175 cm (70 in)
  DM    0.82 + 4.5 / d             0.82 + 1.8 / d, d to 175 cm (70 in)
  AM    1 - 0.0032 a, a to 135 degrees
  FM    table 5 by lifts a minute, hours, and v (v_origin where given) below
        or from 75 cm (30 in), in a straight line between rows
  CM    good 1, fair 0.95 below 75 cm (30 in) and 1 from there, poor 0.90
  h and d below 25 cm (10 in) count as that, per_minute below 0.2 as 0.2; beyond
  an upper limit the multiplier is 0. "round":"manual" rounds multipliers to 2
  places and results to 1, halves up, as the worksheets of the manual do.

Source: Waters, Putz-Anderson, Garg: Applications Manual for the Revised NIOSH
Lifting Equation, DHHS (NIOSH) 94-110, revised September 2021. That the frequency
goes by the height at the origin is inferred from its example 4.

Limits: not for lifts with one hand, over 8 hours, seated or kneeling, in a
confined space, of unstable loads (water in a hull), while carrying or pushing,
fast, on a slippery ramp, or in great heat, cold or damp. An LI above 1 is a
raised risk for some; one below 1 is not a promise of safety. Where the load must
be set down with care, compute both ends and take the lower limit.`,
	Example: `{"units":"metric","h":40,"v":75,"d":75,"a":0,"per_minute":0.2,"hours":1,"coupling":"fair","load":12.0,"round":"none"}`,
	Answer:  answerLift,
}

type liftAnswer struct {
	HM           float64  `json:"hm"`
	VM           float64  `json:"vm"`
	DM           float64  `json:"dm"`
	AM           float64  `json:"am"`
	FM           float64  `json:"fm"`
	CM           float64  `json:"cm"`
	RWL          float64  `json:"rwl"`
	LI           *float64 `json:"li"`
	BeyondLimits bool     `json:"beyond_limits,omitempty"`
}

func answerLift(in *Object) (any, error) {
	task := lift.Task{
		Units:      lift.Units(in.Text("units", "metric", "us")),
		Horizontal: in.Float("h"),
		Vertical:   in.Float("v"),
		Distance:   in.Float("d"),
		Asymmetry:  in.Float("a"),
		PerMinute:  in.Float("per_minute"),
		Hours:      in.Float("hours"),
		Coupling:   lift.Coupling(in.Text("coupling", "good", "fair", "poor")),
		Worksheet:  in.Text("round", "none", "manual") == "manual",
	}
	if in.Has("v_origin") {
		v := in.Float("v_origin")
		task.OriginVertical = &v
	}
	loaded, load := in.Has("load"), in.FloatOr("load", 0, NotNegative)
	if err := in.Done(); err != nil {
		return nil, err
	}
	r, err := lift.Evaluate(task)
	if err != nil {
		return nil, err
	}
	answer := liftAnswer{HM: r.HM, VM: r.VM, DM: r.DM, AM: r.AM, FM: r.FM, CM: r.CM, RWL: r.RWL, BeyondLimits: r.RWL == 0}
	if index, ok := r.Index(load); ok && loaded {
		answer.LI = &index
	}
	return answer, nil
}
