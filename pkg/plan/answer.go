package plan

// A Record is a task in the JSON that `refloat calc plan` reads, with ids in place
// of positions. It is what stands in the book.
type Record struct {
	Currency  string           `json:"currency"`
	Minutes   int64            `json:"minutes_available"`
	CashMinor int64            `json:"cash_available_minor"`
	Repairs   []RecordedRepair `json:"repairs"`
}

// RecordedRepair is a Repair in a Record.
type RecordedRepair struct {
	ID        string   `json:"id"`
	Minutes   int64    `json:"minutes"`
	CashMinor int64    `json:"cash_minor"`
	GainMinor int64    `json:"gain_minor"`
	Requires  []string `json:"requires,omitempty"`
	Excludes  []string `json:"excludes,omitempty"`
	Must      bool     `json:"must,omitempty"`
}

// Task gives the same to the arithmetic, with the ids by position. Names of repairs
// that are not in the list are left out.
func (r Record) Task() (Task, []string) {
	positions, ids := map[string]int{}, make([]string, len(r.Repairs))
	for i, repair := range r.Repairs {
		positions[repair.ID], ids[i] = i, repair.ID
	}
	named := func(list []string) []int {
		var at []int
		for _, id := range list {
			if i, ok := positions[id]; ok {
				at = append(at, i)
			}
		}
		return at
	}
	task := Task{Minutes: r.Minutes, CashMinor: r.CashMinor}
	for _, repair := range r.Repairs {
		task.Repairs = append(task.Repairs, Repair{
			Minutes: repair.Minutes, CashMinor: repair.CashMinor, GainMinor: repair.GainMinor,
			Requires: named(repair.Requires), Excludes: named(repair.Excludes), Must: repair.Must,
		})
	}
	return task, ids
}

// BestFound is the status of an answer that is not known to be the best.
const BestFound = "best_found"

// An Answer is a plan in the words of `refloat calc plan`. Null stands for what an
// impossible task has not.
type Answer struct {
	Status        string   `json:"status"`
	Reason        *string  `json:"reason"`
	Chosen        []string `json:"chosen"`
	Objective     *float64 `json:"objective"` // minor units; whole unless net
	GainMinor     *int64   `json:"gain_minor"`
	MinutesUsed   *int64   `json:"minutes_used"`
	CashUsedMinor *int64   `json:"cash_used_minor"`
	MinutesLeft   *int64   `json:"minutes_left"`
	CashLeftMinor *int64   `json:"cash_left_minor"`
	// MoreMinor is what a better set could gain at most, where the effort was spent
	// before this one was known to be the best.
	MoreMinor     *float64 `json:"may_gain_more_minor,omitempty"`
	MustMinutes   int64    `json:"must_minutes"`
	MustCashMinor int64    `json:"must_cash_minor"`
}

// Answer puts a plan of a task into those words.
func (p Plan) Answer(task Task, ids []string) Answer {
	answer := Answer{
		Status: "infeasible", Reason: &p.Infeasible, Chosen: []string{},
		MustMinutes: p.MustMinutes, MustCashMinor: p.MustCashMinor,
	}
	if p.Infeasible != "" {
		return answer
	}
	objective := float64(p.Sixtieths) / 60
	minutesLeft, cashLeft := task.Minutes-p.Minutes, task.CashMinor-p.CashMinor
	answer.Status, answer.Reason = "optimal", nil
	answer.Objective, answer.GainMinor = &objective, &p.GainMinor
	answer.MinutesUsed, answer.CashUsedMinor = &p.Minutes, &p.CashMinor
	answer.MinutesLeft, answer.CashLeftMinor = &minutesLeft, &cashLeft
	if p.Cut {
		more := float64(p.MoreSixtieths) / 60
		answer.Status, answer.MoreMinor = BestFound, &more
	}
	for _, i := range p.Chosen {
		answer.Chosen = append(answer.Chosen, ids[i])
	}
	return answer
}
