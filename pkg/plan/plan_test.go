package plan

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Knapsack instances p01 to p08 of the KNAPSACK_01 collection (LGPL; p01, p02,
// p04, p07 and p08 read in stored copies, the weights of the others from memory),
// with the optima published there. p08's items are in testdata/published.
func TestPublishedKnapsacks(t *testing.T) {
	eight := readItems(t, "../../testdata/published/valuation/knapsack-p08.csv")
	for _, c := range []struct {
		name             string
		capacity         int64
		weights, profits []int64
		optimum, weight  int64
		selection        string // "" where equal profits could differ
	}{
		{"p01", 165, []int64{23, 31, 29, 44, 53, 38, 63, 85, 89, 82}, []int64{92, 57, 49, 68, 60, 43, 67, 84, 87, 72}, 309, 165, "1111010000"},
		{"p02", 26, []int64{12, 7, 11, 8, 9}, []int64{24, 13, 23, 15, 16}, 51, 26, "01110"},
		{"p03", 190, []int64{56, 59, 80, 64, 75, 17}, []int64{50, 50, 64, 46, 50, 5}, 150, 190, ""},
		{"p04", 50, []int64{31, 10, 20, 19, 4, 3, 6}, []int64{70, 20, 39, 37, 7, 5, 10}, 107, 50, "1001000"},
		{"p05", 104, []int64{25, 35, 45, 5, 25, 3, 2, 2}, []int64{350, 400, 450, 20, 70, 8, 5, 5}, 900, 104, "10111011"},
		{"p06", 170, []int64{41, 50, 49, 59, 55, 57, 60}, []int64{442, 525, 511, 593, 546, 564, 617}, 1735, 169, "0101001"},
		{"p07", 750, []int64{70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120},
			[]int64{135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240}, 1458, 749, "101010111000011"},
		{"p08", 6404180, eight[0], eight[1], 13549094, 6402560, "110111000110100100000111"},
	} {
		task := Task{CashMinor: c.capacity}
		for i := range c.weights {
			task.Repairs = append(task.Repairs, Repair{CashMinor: c.weights[i], GainMinor: c.profits[i]})
		}
		plan, err := Choose(task)
		require.NoError(t, err)
		assert.Equal(t, c.optimum, plan.GainMinor, c.name)
		if c.selection != "" {
			assert.Equal(t, c.weight, plan.CashMinor, c.name)
			assert.Equal(t, c.selection, pattern(plan.Chosen, len(c.weights)), c.name)
		}
	}
}

func pattern(chosen []int, n int) string {
	digits := make([]byte, n)
	for i := range digits {
		digits[i] = '0'
	}
	for _, i := range chosen {
		digits[i] = '1'
	}
	return string(digits)
}

func readItems(t *testing.T, name string) [2][]int64 {
	t.Helper()
	file, err := os.Open(name)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	var columns [2][]int64
	for _, row := range rows[1:] {
		for k, word := range row {
			n, err := strconv.ParseInt(word, 10, 64)
			require.NoError(t, err)
			columns[k] = append(columns[k], n)
		}
	}
	return columns
}

// Every set of a small list is tried, and the rules are read off their wording:
// that is the reference.
func TestChooseAgreesWithTryingEverySet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		task := drawTask(t)
		got, err := Choose(task)
		require.NoError(t, err)
		want, found := bestByTrying(task)
		require.Equal(t, found, got.Infeasible == "", "%+v", task)
		if found {
			require.Equal(t, want, got.Chosen, "%+v", task)
		}
	})
}

// The last pass alone, with hardly any room, is as exact; so is what polishing
// makes of everything at once.
func TestPortionsMergedNodesAndPolishStayExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		task := drawTask(t)
		want, found := bestByTrying(task)
		if !found {
			t.Skip("infeasible")
		}
		w := newWeb(task.Repairs)
		musts := w.musts(task.Repairs)
		s := newSearch(task, w, musts)
		s.portion, s.widest = 4, 2
		s.arrange()
		s.pass(0)
		got := w.firstOfEquals(task, musts, s.incumbent.chosen.union(musts))
		require.Equal(t, want, got.positions())
		if s = newSearch(task, w, musts); len(s.singles()) == len(s.items) {
			s.exchange(s.items, label{})
			got = w.firstOfEquals(task, musts, s.incumbent.chosen.union(musts))
			require.Equal(t, want, got.positions())
		}
	})
}

// The table alone, with no set known before it and after pruning against the best
// one, is as exact.
func TestTableAgreesWithTryingEverySet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		task := drawTask(t)
		want, found := bestByTrying(task)
		if !found {
			t.Skip("infeasible")
		}
		w := newWeb(task.Repairs)
		musts := w.musts(task.Repairs)
		s := newSearch(task, w, musts)
		s.arrange()
		for range 2 {
			if !s.tabulate(1e6) {
				t.Skip("too large a table")
			}
			got := w.firstOfEquals(task, musts, s.incumbent.chosen.union(musts))
			require.Equal(t, want, got.positions(), "%+v", task)
			s.choosePrices()
		}
	})
}

// The number of marks of this table passes 2^63.
func TestTableTooLargeToCount(t *testing.T) {
	task := Task{Minutes: 210_000_000, CashMinor: 210_000_000}
	for i := range int64(Largest) {
		task.Repairs = append(task.Repairs, Repair{Minutes: 1<<20 + i, CashMinor: 1<<20 - i})
	}
	s := newSearch(task, newWeb(task.Repairs), set{})
	s.arrange()
	assert.False(t, s.tabulate(math.Inf(1)))
}

// drawTask draws small numbers, so that ties are common, and sometimes large.
func drawTask(t *rapid.T) Task {
	n := rapid.IntRange(0, 11).Draw(t, "n")
	top := rapid.SampledFrom([]int64{0, 1, 3, 20, 1_000_000_007}).Draw(t, "top")
	amount := rapid.Int64Range(0, top)
	task := Task{
		Minutes: rapid.Int64Range(0, 1+top*int64(n)/2).Draw(t, "minutes"), CashMinor: rapid.Int64Range(0, 1+top*int64(n)/2).Draw(t, "cash"),
		Net: rapid.Bool().Draw(t, "net"), HourMinor: rapid.Int64Range(0, 90).Draw(t, "hour"),
	}
	ties := rapid.SampledFrom([]int{0, 6, 30}).Draw(t, "ties")
	order := rapid.Permutation(sequence(n)).Draw(t, "order")
	for range n {
		task.Repairs = append(task.Repairs, Repair{
			Minutes: amount.Draw(t, "m"), CashMinor: amount.Draw(t, "c"),
			GainMinor: rapid.Int64Range(-top/4, 2*top).Draw(t, "g"), Must: rapid.IntRange(0, 11).Draw(t, "must") == 0,
		})
	}
	for i := range n {
		for j := range i {
			a, b := &task.Repairs[order[i]], order[j]
			switch kind := rapid.IntRange(0, 99).Draw(t, "tie"); {
			case kind < ties/2:
				a.Requires = append(a.Requires, b)
			case kind < ties:
				a.Excludes = append(a.Excludes, b)
			}
		}
	}
	return task
}

func sequence(n int) []int {
	sequence := make([]int, n)
	for i := range sequence {
		sequence[i] = i
	}
	return sequence
}

func bestByTrying(task Task) ([]int, bool) {
	var best []int
	var bestTotal Plan
	found := false
	for bits := range 1 << len(task.Repairs) {
		chosen := []int{}
		for i := range task.Repairs {
			if bits>>i&1 == 1 {
				chosen = append(chosen, i)
			}
		}
		if !allowed(task, chosen) {
			continue
		}
		total := sum(task, chosen)
		if total.Minutes > task.Minutes || total.CashMinor > task.CashMinor {
			continue
		}
		if !found || ahead(total, bestTotal, chosen, best) {
			best, bestTotal, found = chosen, total, true
		}
	}
	return best, found
}

func allowed(task Task, chosen []int) bool {
	for i, r := range task.Repairs {
		if r.Must && !slices.Contains(chosen, i) {
			return false
		}
	}
	for _, i := range chosen {
		for _, j := range task.Repairs[i].Requires {
			if !slices.Contains(chosen, j) {
				return false
			}
		}
		for _, j := range task.Repairs[i].Excludes {
			if slices.Contains(chosen, j) {
				return false
			}
		}
	}
	return true
}

func sum(task Task, chosen []int) Plan {
	var p Plan
	for _, i := range chosen {
		r := task.Repairs[i]
		p.Minutes += r.Minutes
		p.CashMinor += r.CashMinor
		if task.Net {
			p.Sixtieths += 60*r.GainMinor - 60*r.CashMinor - r.Minutes*task.HourMinor
		} else {
			p.Sixtieths += 60 * r.GainMinor
		}
	}
	return p
}

func ahead(a, b Plan, chosenA, chosenB []int) bool {
	switch {
	case a.Sixtieths != b.Sixtieths:
		return a.Sixtieths > b.Sixtieths
	case a.CashMinor != b.CashMinor:
		return a.CashMinor < b.CashMinor
	case a.Minutes != b.Minutes:
		return a.Minutes < b.Minutes
	}
	return slices.Compare(chosenA, chosenB) < 0
}

func TestDictionaryOrderBetweenEquals(t *testing.T) {
	for _, c := range []struct {
		name    string
		repairs []Repair
		want    []int
	}{
		{"what changes nothing is left out at the end", []Repair{{GainMinor: 5, CashMinor: 1}, {}}, []int{0}},
		{"and put in before something else", []Repair{{}, {GainMinor: 5, CashMinor: 1}}, []int{0, 1}},
		{"nothing comes before something", []Repair{{}, {}}, []int{}},
		{"the earlier of twins", []Repair{{GainMinor: 5, CashMinor: 2}, {GainMinor: 5, CashMinor: 2}}, []int{0}},
		{"the cheaper one before the earlier", []Repair{{GainMinor: 5, CashMinor: 2}, {GainMinor: 5, CashMinor: 1, Excludes: []int{0}}}, []int{1}},
	} {
		plan, err := Choose(Task{Repairs: c.repairs, CashMinor: 2})
		require.NoError(t, err)
		assert.Equal(t, c.want, plan.Chosen, c.name)
	}
}

func TestMustsThatCannotBe(t *testing.T) {
	must := Repair{Minutes: 30, CashMinor: 5, Must: true, Requires: []int{1}}
	base := Repair{Minutes: 40, CashMinor: 6}
	other := Repair{Must: true, Minutes: 1, CashMinor: 1, Excludes: []int{1}}
	for _, c := range []struct {
		name          string
		repairs       []Repair
		minutes       int64
		reason        string
		minutesOfMust int64
	}{
		{"with what they require", []Repair{must, base}, 69, MustsExceedLimits, 70},
		{"just", []Repair{must, base}, 70, "", 70},
		{"by way of what one requires", []Repair{must, base, other}, 500, MustsConflict, 71},
	} {
		plan, err := Choose(Task{Repairs: c.repairs, Minutes: c.minutes, CashMinor: 50})
		require.NoError(t, err)
		assert.Equal(t, c.reason, plan.Infeasible, c.name)
		assert.Equal(t, c.minutesOfMust, plan.MustMinutes, c.name)
		if c.reason != "" {
			assert.Empty(t, plan.Chosen, c.name)
		}
	}
}

func TestRefusesWhatItCannotAddExactly(t *testing.T) {
	_, err := Choose(Task{Repairs: make([]Repair, Largest+1)})
	assert.Error(t, err)
	_, err = Choose(Task{Repairs: []Repair{{GainMinor: 1 << 60}}})
	assert.Error(t, err)
	_, err = Choose(Task{Repairs: []Repair{{Minutes: 1 << 40}}, HourMinor: 1 << 40})
	assert.Error(t, err)
}

func TestCircle(t *testing.T) {
	for _, c := range []struct {
		name     string
		requires [][]int
		want     int
	}{
		{"none", [][]int{{1}, {2}, {}}, -1},
		{"itself", [][]int{{}, {1}}, 1},
		{"leading into it is not being in it", [][]int{{1}, {2}, {3}, {1}}, 1},
		{"two of them", [][]int{{}, {4}, {3}, {2}, {1}}, 1},
	} {
		repairs := make([]Repair, len(c.requires))
		for i := range repairs {
			repairs[i].Requires = c.requires[i]
		}
		assert.Equal(t, c.want, Circle(repairs), c.name)
	}
}

// hard are lists of the largest size that defeat plain methods.
var hard = []struct {
	name string
	make func(r *rand.Rand) Task
}{
	{"60 boats of 5", func(r *rand.Rand) Task {
		task := spread(r, func(*Repair) {})
		for i := range task.Repairs {
			if i%5 > 0 && r.IntN(2) == 0 {
				task.Repairs[i].Requires = []int{i - 1 - r.IntN(i%5)}
			}
			if i%5 == 4 {
				task.Repairs[i].Excludes = []int{i - 1}
			}
		}
		return task
	}},
	{"single, large numbers", func(r *rand.Rand) Task { return spread(r, func(*Repair) {}) }},
	{"single, coarse numbers", func(r *rand.Rand) Task {
		return spread(r, func(p *Repair) {
			p.Minutes, p.CashMinor, p.GainMinor = 15*(1+p.Minutes%16), 500*(p.CashMinor%20), 1000*(1+p.GainMinor%20)
		})
	}},
	{"gain near cash", func(r *rand.Rand) Task {
		return spread(r, func(p *Repair) { p.GainMinor = max(1, p.CashMinor+p.GainMinor%2001-1000) })
	}},
	{"cash and as much again, whole dollars, a tenth of the hours", func(r *rand.Rand) Task { return likeCost(r, 100, 10, 0) }},
	{"cash and as much again, dimes, a third of the hours", func(r *rand.Rand) Task { return likeCost(r, 10, 3, 0) }},
	{"cash, minutes and as much again, whole dollars", func(r *rand.Rand) Task { return likeCost(r, 100, 15, 1) }},
	{"all the same", func(r *rand.Rand) Task {
		return spread(r, func(p *Repair) { p.GainMinor, p.CashMinor, p.Minutes = 700, 300, 45 })
	}},
	{"same gain", func(r *rand.Rand) Task { return spread(r, func(p *Repair) { p.GainMinor = 5000 }) }},
	{"one needed by all", func(r *rand.Rand) Task {
		task := spread(r, func(p *Repair) { p.Requires = []int{150} })
		task.Repairs[150] = Repair{Minutes: 600, CashMinor: 9000}
		return task
	}},
	{"a chain", func(r *rand.Rand) Task {
		task := spread(r, func(p *Repair) {})
		for i := 1; i < len(task.Repairs); i++ {
			task.Repairs[i].Excludes = []int{i - 1}
		}
		return task
	}},
	{"one of each ten", func(r *rand.Rand) Task {
		task := spread(r, func(p *Repair) {})
		for i := range task.Repairs {
			for j := i / 10 * 10; j < i; j++ {
				task.Repairs[i].Excludes = append(task.Repairs[i].Excludes, j)
			}
		}
		return task
	}},
	{"loosely tied all over", func(r *rand.Rand) Task {
		task := spread(r, func(p *Repair) {})
		for range 60 {
			i, j := r.IntN(Largest), r.IntN(Largest)
			if i > j {
				task.Repairs[i].Requires = append(task.Repairs[i].Requires, j)
			}
			i, j = r.IntN(Largest), r.IntN(Largest)
			if i != j {
				task.Repairs[i].Excludes = append(task.Repairs[i].Excludes, j)
			}
		}
		return task
	}},
}

// likeCost draws the largest list of repairs that gain their cash, in steps of
// some cents, 20.00 more, and some cents a minute.
func likeCost(r *rand.Rand, step, part, perMinute int64) Task {
	task := spread(r, func(p *Repair) {
		p.Minutes, p.CashMinor = 5*(1+p.Minutes%48), step*(1+p.CashMinor%(30_000/step))
		p.GainMinor = p.CashMinor + 2000 + perMinute*p.Minutes
	})
	task.Minutes, task.CashMinor = 3*task.Minutes/part, 3*task.CashMinor/part
	return task
}

// spread draws the largest list with budgets for about a third of it.
func spread(r *rand.Rand, change func(*Repair)) Task {
	var task Task
	for range Largest {
		p := Repair{Minutes: 10 + r.Int64N(591), CashMinor: r.Int64N(20_001), GainMinor: r.Int64N(40_001)}
		change(&p)
		task.Repairs = append(task.Repairs, p)
		task.Minutes += p.Minutes
		task.CashMinor += p.CashMinor
	}
	task.Minutes /= 3
	task.CashMinor /= 3
	return task
}

// What is chosen is allowed, and the same again. How long it took is logged, not
// judged.
func TestLargestLists(t *testing.T) {
	for _, c := range hard {
		t.Run(c.name, func(t *testing.T) {
			task := c.make(rand.New(rand.NewPCG(1, 7)))
			began := time.Now()
			plan, err := Choose(task)
			t.Logf("%v, gain %d", time.Since(began).Round(time.Millisecond), plan.GainMinor)
			require.NoError(t, err)
			require.True(t, allowed(task, plan.Chosen))
			require.LessOrEqual(t, plan.Minutes, task.Minutes)
			require.LessOrEqual(t, plan.CashMinor, task.CashMinor)
		})
	}
}

// The textbook table over both budgets is the reference for longer lists of
// repairs that have nothing to do with one another.
func TestChooseAgreesWithTheTable(t *testing.T) {
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 11))
		task := Task{Minutes: 20 + r.Int64N(60), CashMinor: 20 + r.Int64N(60)}
		for range 20 + r.IntN(100) {
			p := Repair{Minutes: r.Int64N(12), CashMinor: r.Int64N(12), GainMinor: r.Int64N(9) + r.Int64N(2)*r.Int64N(500)}
			switch seed % 4 {
			case 1:
				p.GainMinor = p.CashMinor + 7
			case 2:
				p.GainMinor = p.CashMinor + p.Minutes + 7
			}
			task.Repairs = append(task.Repairs, p)
		}
		plan, err := Choose(task)
		require.NoError(t, err)
		gain, cash, minutes := bestByTable(task)
		assert.Equal(t, []int64{gain, cash, minutes}, []int64{plan.GainMinor, plan.CashMinor, plan.Minutes}, "seed %d", seed)
	}
}

// bestByTable fills in, for every pair of amounts used exactly, the most gain.
func bestByTable(task Task) (gain, cash, minutes int64) {
	const none = -1
	table := make([][]int64, task.CashMinor+1)
	for c := range table {
		table[c] = make([]int64, task.Minutes+1)
		for m := range table[c] {
			table[c][m] = none
		}
	}
	table[0][0] = 0
	for _, p := range task.Repairs {
		for c := task.CashMinor; c >= p.CashMinor; c-- {
			for m := task.Minutes; m >= p.Minutes; m-- {
				if before := table[c-p.CashMinor][m-p.Minutes]; before != none {
					table[c][m] = max(table[c][m], before+p.GainMinor)
				}
			}
		}
	}
	for c := range table {
		for m := range table[c] {
			if table[c][m] > gain {
				gain, cash, minutes = table[c][m], int64(c), int64(m)
			}
		}
	}
	return gain, cash, minutes
}

func ExampleChoose() {
	plan, _ := Choose(Task{
		Minutes: 300, CashMinor: 6000,
		Repairs: []Repair{
			{Minutes: 120, CashMinor: 2000, GainMinor: 7000},
			{Minutes: 120, CashMinor: 2500, GainMinor: 6000, Requires: []int{0}},
			{Minutes: 200, CashMinor: 1500, GainMinor: 9000},
			{Minutes: 60, CashMinor: 1000, Must: true},
		},
	})
	fmt.Println(plan.Chosen, plan.GainMinor)
	// Output: [0 1 3] 13000
}

// With its effort bounded a plan is allowed, says that it was cut short, and never
// claims to be nearer to the best than it is.
func TestWhatIsCutShortSaysHowFarItMayBe(t *testing.T) {
	short := 0
	for seed := range uint64(24) {
		r := rand.New(rand.NewPCG(seed, 23))
		task := Task{Minutes: 40 + r.Int64N(200), CashMinor: 40 + r.Int64N(200)}
		for range 10 + r.IntN(30) {
			p := Repair{Minutes: r.Int64N(30), CashMinor: r.Int64N(30)}
			p.GainMinor = p.CashMinor + p.Minutes + 7 + r.Int64N(2)*r.Int64N(40)
			task.Repairs = append(task.Repairs, p)
		}
		best, err := Choose(task)
		require.NoError(t, err)
		require.False(t, best.Cut)
		task.Effort = 1 + r.Int64N(2000)
		found, err := Choose(task)
		require.NoError(t, err)
		require.True(t, allowed(task, found.Chosen))
		require.LessOrEqual(t, best.Sixtieths, found.Sixtieths+found.MoreSixtieths, "seed %d", seed)
		if !found.Cut {
			require.Equal(t, best, found, "seed %d", seed)
			continue
		}
		short++
		answer := found.Answer(task, make([]string, len(task.Repairs)))
		require.Equal(t, BestFound, answer.Status)
	}
	require.Greater(t, short, 3, "the effort was too much to cut anything short")
}

// The largest list of the sort that can take very long: gains are cash, minutes and
// a constant, and the budgets are finely stepped.
func TestTheHardestListsEndWithTheirEffort(t *testing.T) {
	task := likeCost(rand.New(rand.NewPCG(1, 7)), 1, 3, 1)
	task.Effort = 200_000
	began := time.Now()
	plan, err := Choose(task)
	require.NoError(t, err)
	t.Logf("%v, gain %d, at most %d more", time.Since(began).Round(time.Millisecond), plan.GainMinor, plan.MoreSixtieths/60)
	require.True(t, allowed(task, plan.Chosen))
	require.True(t, plan.Cut)
	require.Less(t, plan.MoreSixtieths/60, plan.GainMinor/100, "the gap is within a hundredth of the gain")
}
