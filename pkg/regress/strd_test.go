package regress

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// certified is one data set of the NIST Statistical Reference Datasets
// (https://www.itl.nist.gov/div898/strd/), with its certified values; how they
// were confirmed stands in testdata/published/strd/README.md.
type certified struct {
	values, errors []float64
	sd, rSquared   float64
	y              []float64
	x              Rows
}

func TestNISTReferenceDatasets(t *testing.T) {
	for _, c := range []struct {
		set    string
		degree int // of the polynomial; 0 when the columns are given
		origin bool
		digits float64
	}{
		{set: "norris", digits: 12},
		{set: "pontius", degree: 2, digits: 12},
		{set: "longley", digits: 12},
		{set: "noint1", origin: true, digits: 12},
		{set: "noint2", origin: true, digits: 12},
		{set: "filip", degree: 10, digits: 7},
		{set: "wampler1", degree: 5, digits: 12},
		{set: "wampler2", degree: 5, digits: 12},
		{set: "wampler3", degree: 5, digits: 12},
		{set: "wampler4", degree: 5, digits: 12},
		{set: "wampler5", degree: 5, digits: 12},
	} {
		t.Run(c.set, func(t *testing.T) {
			t.Parallel()
			want := readCertified(t, c.set)
			if c.degree > 0 {
				want.x = powers(want.x, c.degree)
			}
			fitted, err := fit(want.x, want.y, c.origin)
			require.NoError(t, err)
			values, errors := fitted.parameters()
			largest := 0.0
			for _, y := range want.y {
				largest = max(largest, math.Abs(y))
			}
			estimates := worst(values, want.values, 1)
			spread := worst(append(errors, fitted.ResidualSD()), append(want.errors, want.sd), largest)
			explained := agreement(fitted.RSquared(), want.rSquared, 1)
			t.Logf("log relative error: estimates %.1f, standard deviations %.1f, R squared %.1f", estimates, spread, explained)
			assert.GreaterOrEqual(t, estimates, c.digits, "estimates")
			assert.GreaterOrEqual(t, spread, min(c.digits, 9), "standard deviations")
			assert.GreaterOrEqual(t, explained, min(c.digits, 9), "R squared")
		})
	}
}

// parameters gives the numbers in the order of the certificates.
func (f *Fit) parameters() (values, errors []float64) {
	intercept, slopes := f.StandardErrors()
	if f.origin {
		return f.Slopes, slopes
	}
	return append([]float64{f.Intercept}, f.Slopes...), append([]float64{intercept}, slopes...)
}

// agreement is NIST's log relative error: the number of digits that agree, 15
// at most. Against a certified zero it is taken relative to the data's size.
func agreement(got, want, size float64) float64 {
	off := math.Abs(got - want)
	if want != 0 {
		size = math.Abs(want)
	}
	if off == 0 {
		return 15
	}
	return min(15, -math.Log10(off/size))
}

func worst(got, want []float64, size float64) float64 {
	digits := 15.0
	for i := range want {
		digits = min(digits, agreement(got[i], want[i], size))
	}
	return digits
}

func powers(x Rows, degree int) Rows {
	rows := make(Rows, len(x))
	for i := range x {
		for j := 1; j <= degree; j++ {
			rows[i] = append(rows[i], math.Pow(x[i][0], float64(j)))
		}
	}
	return rows
}

func readCertified(t *testing.T, set string) certified {
	t.Helper()
	file, err := os.Open(filepath.Join("../../testdata/published/strd", set+".dat"))
	require.NoError(t, err)
	defer file.Close()
	var c certified
	lines := bufio.NewScanner(file)
	for lines.Scan() {
		words := strings.Fields(lines.Text())
		switch {
		case len(words) == 0:
		case words[0] == "#B":
			c.values = append(c.values, number(t, words[2]))
			c.errors = append(c.errors, number(t, words[3]))
		case words[0] == "#S":
			c.sd = number(t, words[2])
		case words[0] == "#R":
			c.rSquared = number(t, words[2])
		case !strings.HasPrefix(words[0], "#"):
			c.y = append(c.y, number(t, words[0]))
			var row []float64
			for _, word := range words[1:] {
				row = append(row, number(t, word))
			}
			c.x = append(c.x, row)
		}
	}
	require.NoError(t, lines.Err())
	return c
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return x
}
