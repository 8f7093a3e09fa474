package inference

import (
	"math"
	"math/rand/v2"
	"slices"

	"sheetwash/analysis/quantity"
)

// PermutationLogRank compares the times of two groups by the log-rank statistic
// and all ways to deal the groups within every stratum.
//
//	U = sum over the first group of (event - cumulated hazard at its time);  p = share of dealings with |U| at least as large
//
// The scores are those of all plots of a stratum together, so the statistic is
// observed minus expected events of the log-rank test, stratified. It is exact where the groups are followed for the
// same time, as plots under one rain are. More than 20,000 dealings: drawn with the seed. LeastP is the smallest p that the sizes can give.
// Strata hold the run or event of each time; nil: one stratum.
//
// Source: Mantel (1966); Peto & Peto (1972), JRSS A 135:185-207, for the scores; Heimann & Neuhaus (1998), Biometrics 54:168-184, for the permutation. No event or one group: flags.
// Errors: ErrInput for NaN, negative times or unlike lengths.
func PermutationLogRank(time []float64, event, first []bool, strata []string, seed uint64) (Permutation, error) {
	var r Permutation
	if err := checkTimes(time, event); err != nil {
		return r, err
	}
	if err := checkLengths("time", "group", len(time), len(first)); err != nil {
		return r, err
	}
	if strata == nil {
		strata = make([]string, len(time))
	}
	if err := checkLengths("time", "strata", len(time), len(strata)); err != nil {
		return r, err
	}
	d := dealing{count: 1}
	for _, s := range appearances(strata) {
		var t []float64
		var e, f []bool
		for i := range time {
			if strata[i] == s {
				t, e, f = append(t, time[i]), append(e, event[i]), append(f, first[i])
			}
		}
		d.add(logRankScores(t, e), f)
	}
	r.Statistic = quantity.Some(d.observed)
	switch {
	case len(time) == 0:
		r.Flags.Add(FlagNoData)
		return r, nil
	case d.count == 1:
		r.Flags.Add(FlagOneGroup)
		return r, nil
	case !slices.Contains(event, true):
		r.Flags.Add(FlagAllCensored)
		return r, nil
	}
	r.LeastP = quantity.Some(math.Min(1, 2/d.count))
	r.Exact = d.count <= dealingsMost
	d.run(&r, seed)
	return r, nil
}

// dealingsMost is how many dealings are enumerated before they are drawn.
const dealingsMost = 20_000

// logRankScores returns event minus the cumulated hazard (Nelson 1969, Aalen 1978)
// of each time.
func logRankScores(time []float64, event []bool) []float64 {
	order := byTime(time)
	score := make([]float64, len(time))
	hazard := 0.0
	for i := 0; i < len(order); {
		j, d := i, 0.0
		for j < len(order) && time[order[j]] == time[order[i]] {
			if event[order[j]] {
				d++
			}
			j++
		}
		hazard += d / float64(len(order)-i)
		for _, k := range order[i:j] {
			score[k] = -hazard
			if event[k] {
				score[k]++
			}
		}
		i = j
	}
	return score
}

// dealing is the sum of scores of the first groups of all strata.
type dealing struct {
	strata   []stratum
	observed float64
	count    float64 // ways to deal
	size     float64
}

type stratum struct {
	score []float64
	first int
	sums  []float64 // of the first group, one for each way to deal; nil where there are too many
}

func (d *dealing) add(score []float64, first []bool) {
	n := 0
	for i, f := range first {
		if f {
			n++
			d.observed += score[i]
		}
		d.size += math.Abs(score[i])
	}
	s := stratum{score: score, first: n}
	ways := choose(len(score), n)
	if ways <= dealingsMost {
		splits(len(score), n, true, 0, func(members []int) {
			u := 0.0
			for _, i := range members {
				u += score[i]
			}
			s.sums = append(s.sums, u)
		})
	}
	d.strata = append(d.strata, s)
	d.count *= ways
}

func (d *dealing) run(r *Permutation, seed uint64) {
	var two, greater, less, count float64
	tie := 1e-11 * d.size
	take := func(u float64) {
		count++
		if math.Abs(u) >= math.Abs(d.observed)-tie {
			two++
		}
		if u >= d.observed-tie {
			greater++
		}
		if u <= d.observed+tie {
			less++
		}
	}
	if r.Exact {
		d.deal(0, 0, take)
	} else {
		source := rand.New(rand.NewPCG(seed, uint64(len(d.strata))))
		for range drawnSplits {
			u := 0.0
			for _, s := range d.strata {
				if s.sums != nil {
					u += s.sums[source.IntN(len(s.sums))]
					continue
				}
				for _, i := range source.Perm(len(s.score))[:s.first] {
					u += s.score[i]
				}
			}
			take(u)
		}
		two, greater, less, count = two+1, greater+1, less+1, count+1
	}
	r.Permutations = count
	r.TwoSided, r.Greater, r.Less = quantity.Some(two/count), quantity.Some(greater/count), quantity.Some(less/count)
}

// deal walks through all dealings of the strata from one on.
func (d *dealing) deal(from int, sum float64, take func(float64)) {
	if from == len(d.strata) {
		take(sum)
		return
	}
	for _, u := range d.strata[from].sums {
		d.deal(from+1, sum+u, take)
	}
}

// StratifiedLogRank is LogRank with observed, expected and variances summed over
// strata, such as runs whose rain their plots share, for two groups or more.
//
// Source: Mantel (1966); Kalbfleisch & Prentice (2002), 1.5. Errors as LogRank.
func StratifiedLogRank(time []float64, event []bool, group, strata []string) (LogRankTest, error) {
	var test LogRankTest
	if err := checkTimes(time, event); err != nil {
		return test, err
	}
	if err := checkLengths("time", "group", len(time), len(group)); err != nil {
		return test, err
	}
	if err := checkLengths("time", "strata", len(time), len(strata)); err != nil {
		return test, err
	}
	test.Groups = appearances(group)
	k := len(test.Groups)
	test.Observed, test.Expected = make([]float64, k), make([]float64, k)
	v := make([][]float64, k)
	for i := range v {
		v[i] = make([]float64, k)
	}
	for _, s := range appearances(strata) {
		part := LogRankTest{Groups: test.Groups}
		var t []float64
		var e []bool
		var member []int
		for i := range time {
			if strata[i] == s {
				t, e, member = append(t, time[i]), append(e, event[i]), append(member, slices.Index(test.Groups, group[i]))
			}
		}
		pv := part.sums(t, e, member, 0)
		for i := range k {
			test.Observed[i] += part.Observed[i]
			test.Expected[i] += part.Expected[i]
			for j := range k {
				v[i][j] += pv[i][j]
			}
		}
	}
	test.decide(v)
	return test, nil
}
