package regress

import (
	"encoding/csv"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Sen 1968, Journal of the American Statistical Association 63:1379-1389: the
// data, the slope, and its 93 % limits, which are the 4th and the 12th of the
// slopes in order counted from either end.
func TestTheilSenOnSensOwnData(t *testing.T) {
	x := []float64{1, 2, 3, 4, 10, 12, 18}
	y := []float64{9, 15, 19, 20, 45, 55, 78}
	intercept, slope, err := TheilSen(x, y)
	require.NoError(t, err)
	assert.Equal(t, 4.0, slope)
	assert.Equal(t, 6.0, intercept, "median of y - 4x")
	slopes := PairwiseSlopes(x, y)
	require.Len(t, slopes, 21)
	assert.InDelta(t, 26.0/7, slopes[3], 1e-12)
	assert.InDelta(t, 35.0/8, slopes[21-4], 1e-12)

	_, _, err = TheilSen([]float64{3, 3}, []float64{1, 2})
	assert.ErrorIs(t, err, ErrNoVariation)
}

// Stack loss (Brownlee; data from R's datasets), fitted with lm of R 4.2.
func TestPlaneAgreesWithR(t *testing.T) {
	x, y := stackloss(t)
	ordinary, err := Plane(x, y)
	require.NoError(t, err)
	near(t, []float64{-39.9196744201, 0.715640200485, 1.29528612439, -0.152122519149},
		append([]float64{ordinary.Intercept}, ordinary.Slopes...))
}

// Stack loss again, by rlm of the R package MASS 7.3-58 (R 4.2): Huber's psi with k
// 1.345 and the MAD rescaled in each step, to 1e-12; Tukey's bisquare with c 4.685
// from there.
func TestRobustPlanesAgreeWithMASS(t *testing.T) {
	x, y := stackloss(t)
	huber, err := Robust(x, y, Huber(HubersK), nil)
	require.NoError(t, err)
	near(t, []float64{-41.0264853733, 0.829385770254, 0.926059415549, -0.127846317965, 2.44048904599},
		append(append([]float64{huber.Intercept}, huber.Slopes...), huber.Scale))
	below := map[int]float64{}
	for i, w := range huber.Weights {
		if w < 1-1e-9 {
			below[i+1] = w
		}
	}
	assert.Len(t, below, 3)
	for row, want := range map[int]float64{3: 0.785796612530, 4: 0.504855924898, 21: 0.368083781778} {
		assert.InDelta(t, want, below[row], 1e-10, "row %d", row)
	}
	bisquare, err := Robust(x, y, Bisquare(4.685), &huber)
	require.NoError(t, err)
	near(t, []float64{-42.2853215365, 0.927558992802, 0.650711198391, -0.112333123036, 2.28185331457},
		append(append([]float64{bisquare.Intercept}, bisquare.Slopes...), bisquare.Scale))
	t.Logf("huber %v %v, bisquare %v %v", huber.Intercept, huber.Slopes, bisquare.Intercept, bisquare.Slopes)
}

func TestRobustKeepsWildPointsOut(t *testing.T) {
	x, y := Rows{}, []float64{}
	for i := range 12 {
		x, y = append(x, []float64{float64(i)}), append(y, 3+2*float64(i)+0.01*float64(i%3))
	}
	y[5] = 900
	fitted, err := Robust(x, y, Bisquare(4.685), nil)
	require.NoError(t, err)
	assert.InDelta(t, 2, fitted.Slopes[0], 0.05)
	assert.Zero(t, fitted.Weights[5])
	exact, err := Robust(Rows{{1}, {2}, {3}, {4}}, []float64{2, 4, 6, 8}, Huber(HubersK), nil)
	require.NoError(t, err)
	assert.InDelta(t, 2, exact.Slopes[0], 1e-12, "nothing is scattered")
	_, err = Robust(Rows{{1}, {1}}, []float64{1, 2}, Huber(HubersK), nil)
	assert.Error(t, err)
}

// 24 copper determinations, from the R package MASS 7.3-58; values by R.
func TestLocationAgreesWithMASS(t *testing.T) {
	var copper []float64
	for _, row := range readCSV(t, "chem.csv") {
		copper = append(copper, number(t, row[0]))
	}
	assert.InDelta(t, 3.385, Median(copper), 1e-12)
	assert.InDelta(t, 0.526323, MADFactor*MAD(copper), 1e-12)
	assert.InDelta(t, 3.216252158529, HuberLocation(copper, 1.345), 1e-11)
	assert.InDelta(t, 3.206723944444, HuberLocation(copper, 1.5), 1e-11)
}

// R's cars (dist ~ speed, 50 rows): lm and predict at speed 15.
func TestPredictionAgreesWithR(t *testing.T) {
	var x Rows
	var y []float64
	for _, row := range readCSV(t, "cars.csv") {
		x, y = append(x, []float64{number(t, row[0])}), append(y, number(t, row[1]))
	}
	fitted, err := Plane(x, y)
	require.NoError(t, err)
	near(t, []float64{-17.5790948905, 3.93240875912, 15.3795867488, 41.4070364964},
		[]float64{fitted.Intercept, fitted.Slopes[0], fitted.ResidualSD(), fitted.At([]float64{15})})
	const t95of48 = 1.677224196 // from R: qt(0.95, 48)
	half := t95of48 * fitted.ResidualSD() * math.Sqrt(1+fitted.Leverage([]float64{15}))
	assert.InDelta(t, 15.3538569418, fitted.At([]float64{15})-half, 1e-7)
}

func TestRefusesTablesThatSayNothing(t *testing.T) {
	for _, c := range []struct {
		name string
		x    Rows
		y    []float64
		want error
	}{
		{"no rows", nil, nil, ErrTooFew},
		{"fewer rows than numbers", Rows{{1, 2}, {2, 5}}, []float64{1, 2}, ErrTooFew},
		{"constant column", Rows{{1, 7}, {2, 7}, {3, 7}, {5, 7}}, []float64{1, 2, 3, 4}, ErrNoVariation},
		{"constant to rounding", Rows{{0.1 + 0.2}, {0.3}, {0.3}}, []float64{1, 2, 3}, ErrNoVariation},
		{"one column three times another", Rows{{1, 3}, {2, 6}, {4, 12}, {9, 27}}, []float64{1, 2, 3, 4}, ErrNoVariation},
		{"columns adding to the intercept", Rows{{1, 0}, {0, 1}, {1, 0}, {0, 1}}, []float64{1, 2, 3, 4}, ErrNoVariation},
	} {
		_, err := Plane(c.x, c.y)
		assert.ErrorIs(t, err, c.want, c.name)
	}
}

// The normal equations are the definition of least squares: residuals stand at
// right angles to every column.
func TestResidualsAreOrthogonal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(0, 4).Draw(t, "columns")
		rows := rapid.IntRange(width+1, 12).Draw(t, "rows")
		draw := rapid.Float64Range(-100, 100)
		x, y := make(Rows, rows), make([]float64, rows)
		for i := range x {
			x[i] = rapid.SliceOfN(draw, width, width).Draw(t, "row")
			y[i] = draw.Draw(t, "y")
		}
		fitted, err := Plane(x, y)
		if err != nil {
			t.Skip("no variation")
		}
		assert.InDelta(t, 0, Mean(fitted.Residuals), 1e-6)
		for j := range width {
			assert.InDelta(t, 0, dot(fitted.Residuals, x.column(j)), 1e-4)
		}
	})
}

// A ridge solution has the closed form Σxy / (Σx² + penalty) for one column.
func TestRidgeShrinks(t *testing.T) {
	slopes, err := Ridge(Rows{{-1}, {0}, {2}}, []float64{-3, 1, 5}, 2)
	require.NoError(t, err)
	assert.InDelta(t, 13.0/7, slopes[0], 1e-12)
	_, err = Ridge(Rows{{1, 1}, {2, 2}}, []float64{1, 2}, 0)
	require.ErrorIs(t, err, ErrNoVariation)
	slopes, err = Ridge(Rows{{1, 1}, {2, 2}}, []float64{1, 2}, 1)
	require.NoError(t, err)
	assert.InDelta(t, 5.0/11, slopes[0], 1e-12, "the penalty parts twins evenly")
	assert.InDelta(t, slopes[0], slopes[1], 1e-12)
}

func near(t *testing.T, want, got []float64) {
	t.Helper()
	for i := range want {
		assert.InEpsilon(t, want[i], got[i], 1e-10, "number %d", i)
	}
}

func stackloss(t *testing.T) (Rows, []float64) {
	t.Helper()
	var x Rows
	var y []float64
	for _, row := range readCSV(t, "stackloss.csv") {
		x = append(x, []float64{number(t, row[0]), number(t, row[1]), number(t, row[2])})
		y = append(y, number(t, row[3]))
	}
	return x, y
}

func readCSV(t *testing.T, name string) [][]string {
	t.Helper()
	file, err := os.Open("../../testdata/published/valuation/" + name)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	return rows[1:]
}
