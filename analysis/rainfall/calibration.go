package rainfall

import (
	"cmp"
	"math"
	"slices"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Calibration is one catch of a simulator's rain in cans.
type Calibration struct {
	Dataset, ID, Simulator string
	Date                   time.Time // latest of its cans; zero: not given
	CatchMMH               []float64 // intensity at each can, in file order
	// Weights are the shares of the area that the cans stand for, nil where all
	// stand for the same.
	Weights        []float64
	MeanMMH, SDMMH float64           // spatial mean and standard deviation (n-1; 0 for one can)
	PressureKPa    quantity.Optional // mean over the cans that name one
	Positions      []PositionMean
	// WithinSDMMH is the standard deviation of cans about the mean of their
	// position, pooled over positions, with WithinDF degrees of freedom (0: no
	// position has two cans).
	WithinSDMMH float64
	WithinDF    int
	Flags       result.Flags
	Cans        []experiment.Can // as read, in file order
}

// PositionMean is the mean intensity over the cans of one position.
type PositionMean struct {
	Position string
	MeanMMH  float64
	Cans     int
}

// CanDepth returns the depth of a volume caught in a can.
//
//	h = 10 V / a
//
// Units: V in mL, a in cm2 of the can's mouth, h in mm. Source: definition.
func CanDepth(volumeML, mouthCM2 float64) float64 { return 10 * volumeML / mouthCM2 }

// CanIntensity returns the intensity at one can, mm/h.
//
//	i = 60 h / d
//
// Units: h caught in mm, d in min, i in mm/h. Assumes no splash-out and no
// evaporation, and that the time covers the whole catch. Source: definition.
func CanIntensity(c experiment.Can) float64 { return 60 * c.DepthMM / c.DurationMin }

// Calibrations groups the cans of one dataset by calibration, in the order in
// which each first appears.
//
// The spatial mean is the plain mean over cans that stand on a regular grid or
// without coordinates. Off a grid each can is weighted by the area it stands for,
// ThiessenWeights (flag thiessen); of more than 200 such cans the mean is plain
// (flag off_grid). A calibration whose cans name more than one simulator is flagged
// mixed_simulators and belongs to the first.
func Calibrations(dataset string, cans []experiment.Can) []Calibration {
	var out []Calibration
	index := make(map[string]int, 4)
	members := make([][]experiment.Can, 0, 4)
	for _, c := range cans {
		i, ok := index[c.Calibration]
		if !ok {
			i = len(out)
			index[c.Calibration] = i
			out = append(out, Calibration{Dataset: dataset, ID: c.Calibration, Simulator: c.Simulator})
			members = append(members, nil)
		}
		members[i] = append(members[i], c)
	}
	for i := range out {
		out[i].describe(members[i])
	}
	return out
}

func (c *Calibration) describe(cans []experiment.Can) {
	c.Cans = cans
	c.CatchMMH = make([]float64, len(cans))
	for i, can := range cans {
		c.CatchMMH[i] = CanIntensity(can)
		if can.Date.After(c.Date) {
			c.Date = can.Date
		}
		if can.Simulator != c.Simulator {
			c.Flags.Add("mixed_simulators")
		}
		if can.DepthMM == 0 {
			c.Flags.Add("dry_can")
		}
	}
	c.pressure(cans)
	c.weigh(cans)
	c.MeanMMH = mean(c.CatchMMH)
	switch n := len(cans); {
	case c.Weights != nil:
		m, w, err := weightedCatch(c.CatchMMH, c.Weights)
		if err == nil { // else every can is dry
			c.MeanMMH, c.SDMMH = m, math.Sqrt(weightedVariance(c.CatchMMH, w, m))
		}
	case n > 1:
		c.SDMMH = math.Sqrt(sumSquares(c.CatchMMH, c.MeanMMH) / float64(n-1))
	}
	c.positions(cans)
}

// weigh fills the weights of cans that all have coordinates and stand off a grid.
func (c *Calibration) weigh(cans []experiment.Can) {
	places := make([]Point, 0, len(cans))
	for _, can := range cans {
		if !can.XCM.OK || !can.YCM.OK {
			return
		}
		places = append(places, Point{can.XCM.V, can.YCM.V})
	}
	if len(cans) < 3 || onGrid(places) {
		return
	}
	weights, err := ThiessenWeights(places)
	if err != nil {
		c.Flags.Add("off_grid")
		return
	}
	c.Weights = weights
	c.Flags.Add("thiessen")
}

func (c *Calibration) pressure(cans []experiment.Can) {
	var sum, n float64
	for _, can := range cans {
		if can.PressureKPa.OK {
			sum += can.PressureKPa.V
			n++
		}
	}
	if n > 0 {
		c.PressureKPa = quantity.Some(sum / n)
	}
}

// effective returns the number of equal cans whose mean is known as well.
func (c *Calibration) effective() float64 { return effectiveCans(len(c.CatchMMH), c.Weights) }

// positions fills the means of positions, ordered by name, and their pooled
// scatter. Cans without a position count in the spatial mean only.
func (c *Calibration) positions(cans []experiment.Can) {
	order := make([]int, 0, len(cans))
	for i, can := range cans {
		if can.Position != "" {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(cans[a].Position, cans[b].Position) })
	var squares float64
	for start := 0; start < len(order); {
		end := start
		var group []float64
		for end < len(order) && cans[order[end]].Position == cans[order[start]].Position {
			group = append(group, c.CatchMMH[order[end]])
			end++
		}
		m := mean(group)
		c.Positions = append(c.Positions, PositionMean{cans[order[start]].Position, m, len(group)})
		squares += sumSquares(group, m)
		c.WithinDF += len(group) - 1
		start = end
	}
	if c.WithinDF > 0 {
		c.WithinSDMMH = math.Sqrt(squares / float64(c.WithinDF))
	}
}

// At returns the mean of a position and whether the calibration has it.
func (c *Calibration) At(position string) (PositionMean, bool) {
	if position == "" {
		return PositionMean{}, false
	}
	i, ok := slices.BinarySearchFunc(c.Positions, position, func(p PositionMean, name string) int {
		return cmp.Compare(p.Position, name)
	})
	if !ok {
		return PositionMean{}, false
	}
	return c.Positions[i], true
}
