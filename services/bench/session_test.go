package main

import (
	"bytes"
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestReportTurnsTheRatioSoThatMoreIsBetter(t *testing.T) {
	var out bytes.Buffer
	s := &session{out: &out}
	require.NoError(t, s.report(result{Bench: "x/rate", Ours: 30, Reference: 20, Unit: "events/s", Better: higher, Demand: 1}))
	require.NoError(t, s.report(result{Bench: "x/time", Ours: 30, Reference: 20, Unit: "ms", Better: lower, Demand: 1}))
	assert.Equal(t, `{"bench":"x/rate","ours":30,"reference":20,"against":"","unit":"events/s","better":"higher","ratio":1.5,"demand":1,"met":true}
{"bench":"x/time","ours":30,"reference":20,"against":"","unit":"ms","better":"lower","ratio":0.6666666666666666,"demand":1,"met":false}
`, out.String())
	assert.Error(t, s.report(result{Bench: "x/none", Ours: 1, Reference: 1}))
}

func TestInTurnTakesTurnsAndGivesMedians(t *testing.T) {
	s := &session{quick: true}
	var turns string
	count := 0.0
	medians, err := s.inTurn(context.Background(),
		func(context.Context) (float64, error) { turns += "a"; count++; return count, nil },
		func(context.Context) (float64, error) { turns += "b"; return 10 * count, nil })
	require.NoError(t, err)
	assert.Equal(t, "ababab", turns)
	assert.Equal(t, []float64{2, 20}, medians)
}

func TestNamesAndFlagsComeInAnyOrder(t *testing.T) {
	var notes bytes.Buffer
	err := run(context.Background(), []string{"nothing-like-that", "--quick"}, &notes, &notes)
	assert.ErrorContains(t, err, "nothing-like-that")
}

func TestFiguresOfABenchmarkAreRead(t *testing.T) {
	const printed = "goos: linux\nBenchmarkFit-2   \t       1\t 389092557 ns/op\t     11085 pairs-that-fit\t    411213 pairs/s\nPASS\n"
	for unit, want := range map[string]float64{"ns/op": 389092557, "pairs-that-fit": 11085, "pairs/s": 411213} {
		got, err := metricOf([]byte(printed), "BenchmarkFit", unit)
		require.NoError(t, err)
		assert.Equal(t, want, got, unit)
	}
	_, err := metricOf([]byte(printed), "BenchmarkTable", "pairs/s")
	assert.ErrorContains(t, err, "BenchmarkTable")
}
