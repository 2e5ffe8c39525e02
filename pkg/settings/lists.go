package settings

import (
	"fmt"
	"strconv"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/money"
)

// None is the value of a setting that may be left without a number.
const None = "none"

func noneOr(check func(string) error) func(string) error {
	return func(value string) error {
		if value == None {
			return nil
		}
		if err := check(value); err != nil {
			return fmt.Errorf("%w, or %s", err, None)
		}
		return nil
	}
}

// Materials reads how prices of materials differ, in per cent: "ABS sandwich 20;
// aluminium -15".
func Materials(value string) (map[boat.Material]int, error) {
	percents := map[boat.Material]int{}
	for _, part := range parted(value) {
		at := strings.LastIndex(part, " ")
		if at < 0 {
			return nil, fmt.Errorf("write a material and a number of per cent, like %q, and semicolons between", "ABS sandwich 20")
		}
		material := boat.Material(strings.TrimSpace(part[:at]))
		if err := boat.Known("", material, boat.Materials); err != nil {
			return nil, fmt.Errorf("%s", strings.TrimPrefix(err.Error(), ": "))
		}
		percent, err := strconv.Atoi(part[at+1:])
		if err != nil || percent <= -100 || percent > 1000 {
			return nil, fmt.Errorf("%q is no whole number of per cent above -100", part[at+1:])
		}
		if _, again := percents[material]; again {
			return nil, fmt.Errorf("%s stands twice", material)
		}
		percents[material] = percent
	}
	return percents, nil
}

func materials(value string) error {
	_, err := Materials(value)
	return err
}

// A CostShare is a class of defects: which share of them, in per cent, costs how
// much.
type CostShare struct {
	Percent   int
	CostMinor int64
}

// CostShares reads what missed defects cost: "70 at 10.00; 30 at 40.00". The shares
// make a hundred. Empty gives none.
func CostShares(value string, club money.Currency) ([]CostShare, error) {
	var list []CostShare
	sum := 0
	for _, part := range parted(value) {
		share, cost, ok := strings.Cut(part, " at ")
		percent, err := strconv.Atoi(strings.TrimSpace(share))
		if !ok || err != nil || percent <= 0 || percent > 100 {
			return nil, fmt.Errorf("write shares and costs like %q", "70 at 10.00; 30 at 40.00")
		}
		a, err := money.Parse(strings.TrimSpace(cost), club)
		if err != nil || a.Minor < 0 || a.Currency != club {
			return nil, fmt.Errorf("%q is no amount in the club's currency", strings.TrimSpace(cost))
		}
		sum += percent
		list = append(list, CostShare{percent, a.Minor})
	}
	if list != nil && sum != 100 {
		return nil, fmt.Errorf("the shares make %d, not 100", sum)
	}
	return list, nil
}

// missedCosts checks such a list; its amounts are read in the club's currency only
// when they are used.
func missedCosts(value string) error {
	_, err := CostShares(value, "USD")
	return err
}

// Programmes reads for what the club has boats: "youth group; households".
func Programmes(value string) []string { return parted(value) }

// parted gives what semicolons part, without what is empty.
func parted(value string) []string {
	var list []string
	for part := range strings.SplitSeq(value, ";") {
		if part = strings.TrimSpace(part); part != "" {
			list = append(list, part)
		}
	}
	return list
}
