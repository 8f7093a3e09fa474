package infiltration

import (
	"cmp"
	"math"
	"slices"

	"sheetwash/analysis/internal/fit"
)

// joined returns the means with neighbours joined until there are about
// mostIntervals of them, so that a logger's many slopes cost no more than a
// crowd of bottles. Only intervals that touch are joined; the mean over two is
// the mean of both weighted by their durations.
func joined(means []fit.Mean) []fit.Mean {
	if len(means) <= mostIntervals {
		return means
	}
	size := (len(means) + mostIntervals - 1) / mostIntervals
	out := make([]fit.Mean, 0, mostIntervals+1)
	for at := 0; at < len(means); {
		to := at + 1
		for to < len(means) && to-at < size && means[to].Start-means[to-1].End < endSlackMin {
			to++
		}
		out = append(out, join(means[at:to]))
		at = to
	}
	return out
}

func join(means []fit.Mean) fit.Mean {
	if len(means) == 1 {
		return means[0]
	}
	var length, sum, variance float64
	for _, m := range means {
		d := m.End - m.Start
		length += d
		sum += d * m.Value
		variance += d * d * m.U * m.U
	}
	return fit.Mean{
		Start: means[0].Start, End: means[len(means)-1].End,
		Value: sum / length, U: math.Sqrt(variance) / length,
	}
}

// inOrder returns the means and more by time.
func inOrder(means, more []fit.Mean) []fit.Mean {
	all := slices.Concat(means, more)
	slices.SortStableFunc(all, func(a, b fit.Mean) int { return cmp.Compare(a.Start, b.Start) })
	return all
}

// without returns the means that are not among those taken.
func without(means, taken []fit.Mean) []fit.Mean {
	return slices.DeleteFunc(slices.Clone(means), func(m fit.Mean) bool { return slices.Contains(taken, m) })
}

// countFrom returns how many means start at or after a time.
func countFrom(means []fit.Mean, startMin float64) int {
	n := 0
	for _, m := range means {
		if m.Start >= startMin {
			n++
		}
	}
	return n
}
