package settings

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"refloat.example/pkg/boat"
)

// JacketSizes are the sizes on the labels of life jackets, the smallest first.
var JacketSizes = []string{"infant", "child", "youth", "adult"}

// counted reads "word number; word number". Words may hold spaces and stand once.
func counted(value string, known func(word string) error) (map[string]float64, error) {
	if strings.TrimSpace(value) == "" {
		return nil, nil
	}
	all := map[string]float64{}
	for part := range strings.SplitSeq(value, ";") {
		part = strings.TrimSpace(part)
		cut := strings.LastIndex(part, " ")
		if cut < 0 {
			return nil, fmt.Errorf("%q has no number behind it", part)
		}
		word := strings.TrimSpace(part[:cut])
		n, err := strconv.ParseFloat(part[cut+1:], 64)
		if err != nil || !(n >= 0 && n <= 1000) {
			return nil, fmt.Errorf("%q is not a number from 0 to 1000", part[cut+1:])
		}
		if err := known(word); err != nil {
			return nil, err
		}
		if _, again := all[word]; again {
			return nil, fmt.Errorf("%q stands twice", word)
		}
		all[word] = n
	}
	return all, nil
}

func knownFeature(word string) error {
	if !slices.Contains(boat.Features, boat.Feature(word)) {
		return fmt.Errorf("%q is not a feature of a boat", word)
	}
	return nil
}

func knownSize(word string) error {
	if !slices.Contains(JacketSizes, word) {
		return fmt.Errorf("%q is not one of %s", word, strings.Join(JacketSizes, ", "))
	}
	return nil
}

func fittingHours(value string) error {
	_, err := counted(value, knownFeature)
	return err
}

func jackets(value string) error {
	all, err := counted(value, knownSize)
	for _, n := range all {
		if err == nil && n != float64(int(n)) {
			err = fmt.Errorf("write whole numbers of jackets")
		}
	}
	return err
}

// FittingMinutes reads the setting fitting-hours: the minutes in which the workshop
// adds each feature. What cannot be read counts for nothing.
func FittingMinutes(value string) map[boat.Feature]int {
	all, _ := counted(value, knownFeature)
	minutes := map[boat.Feature]int{}
	for word, hours := range all {
		minutes[boat.Feature(word)] = int(60*hours + 0.5)
	}
	return minutes
}

// Jackets reads the setting jackets: how many there are of each size, or nil when
// nobody has counted.
func Jackets(value string) map[string]int {
	all, err := counted(value, knownSize)
	if err != nil || all == nil {
		return nil
	}
	counts := map[string]int{}
	for word, n := range all {
		counts[word] = int(n)
	}
	return counts
}
