package inference

import (
	"fmt"
	"math"
	"math/rand/v2"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Permutation is a permutation test.
type Permutation struct {
	Statistic               quantity.Optional
	TwoSided, Greater, Less quantity.Optional
	Permutations            float64 // enumerated or drawn
	Exact                   bool
	LeastP                  quantity.Optional // the smallest two-sided p that these sizes can give
	Flags                   result.Flags
}

// permutationsMost is how many permutations are enumerated before they are drawn.
const permutationsMost = 200_000

// PermutationTest tests a difference of means by all ways to split the values.
//
//	p = share of splits whose |difference| is at least the observed one
//
// Equal differences are compared with a tolerance, since the order of a sum changes
// its last bit. More than 200,000 splits: drawn with the seed, p = (hits+1)/(draws+1).
// Source: Fisher (1935), The Design of Experiments; Pitman (1937), JRSS Supplement
// 4:119-130. Errors: ErrInput for NaN.
func PermutationTest(x, y []float64, seed uint64) (Permutation, error) {
	if err := checkFinite("x", x); err != nil {
		return Permutation{}, err
	}
	if err := checkFinite("y", y); err != nil {
		return Permutation{}, err
	}
	var r Permutation
	if len(x) == 0 || len(y) == 0 {
		r.Flags.Add(FlagNoData)
		return r, nil
	}
	a, _ := moments(x)
	b, _ := moments(y)
	d := a - b
	r.Statistic = quantity.Some(d)
	all := append(append([]float64{}, x...), y...)
	sum, size := 0.0, 0.0
	for _, v := range all {
		sum += v
		size += math.Abs(v)
	}
	n1, n2 := float64(len(x)), float64(len(y))
	tie := 1e-12 * size
	if _, ss := moments(all); ss == 0 {
		r.Flags.Add(FlagNoSpread)
		r.TwoSided, r.Greater, r.Less = quantity.Some(1), quantity.Some(1), quantity.Some(1)
		return r, nil
	}
	var two, greater, less, count float64
	r.Exact = choose(len(all), len(x)) <= permutationsMost
	splits(len(all), len(x), r.Exact, seed, func(first []int) {
		s := 0.0
		for _, i := range first {
			s += all[i]
		}
		e := s/n1 - (sum-s)/n2
		count++
		if math.Abs(e) >= math.Abs(d)-tie {
			two++
		}
		if e >= d-tie {
			greater++
		}
		if e <= d+tie {
			less++
		}
	})
	if !r.Exact {
		two, greater, less, count = two+1, greater+1, less+1, count+1
	}
	r.Permutations = count
	r.TwoSided, r.Greater, r.Less = quantity.Some(two/count), quantity.Some(greater/count), quantity.Some(less/count)
	r.LeastP = quantity.Some(leastP(len(x), len(y)))
	return r, nil
}

// leastP is the smallest two-sided p of a test that only uses which values fall
// into which group.
func leastP(n1, n2 int) float64 { return math.Min(1, 2/choose(n1+n2, n1)) }

func choose(n, k int) float64 {
	c := 1.0
	for i := 1; i <= min(k, n-k); i++ {
		c = c * float64(n-min(k, n-k)+i) / float64(i)
	}
	return math.Round(c)
}

// drawnSplits is how many splits are drawn where there are too many to enumerate.
const drawnSplits = 20_000

// splits calls f with the members of the first group, for all ways to choose k of
// n, or for drawn ones.
func splits(n, k int, all bool, seed uint64, f func([]int)) {
	if !all {
		source := rand.New(rand.NewPCG(seed, uint64(n)))
		order := make([]int, n)
		for range drawnSplits {
			for i := range order {
				order[i] = i
			}
			for i := range k {
				j := i + source.IntN(n-i)
				order[i], order[j] = order[j], order[i]
			}
			f(order[:k])
		}
		return
	}
	c := make([]int, k)
	for i := range c {
		c[i] = i
	}
	for {
		f(c)
		i := k - 1
		for i >= 0 && c[i] == n-k+i {
			i--
		}
		if i < 0 {
			return
		}
		c[i]++
		for j := i + 1; j < k; j++ {
			c[j] = c[j-1] + 1
		}
	}
}

// PairedPermutation tests the mean of differences by all choices of their signs.
// Source: Fisher (1935). More than 17 pairs: drawn with the seed. Errors: ErrInput for NaN or unlike lengths.
func PairedPermutation(before, after []float64, seed uint64) (Permutation, error) {
	if err := checkLengths("before", "after", len(before), len(after)); err != nil {
		return Permutation{}, err
	}
	d := make([]float64, len(before))
	for i := range d {
		d[i] = before[i] - after[i]
	}
	if err := checkFinite("differences", d); err != nil {
		return Permutation{}, fmt.Errorf("paired permutation: %w", err)
	}
	var r Permutation
	if len(d) == 0 {
		r.Flags.Add(FlagNoData)
		return r, nil
	}
	n := len(d)
	r.Statistic = meanOf(d)
	size := 0.0
	for _, v := range d {
		size += math.Abs(v)
	}
	if size == 0 {
		r.Flags.Add(FlagNoSpread)
	}
	observed := r.Statistic.V * float64(n)
	tie := 1e-12 * size
	r.Exact = n <= 17
	draws := drawnSplits
	if r.Exact {
		draws = 1 << n
	}
	source := rand.New(rand.NewPCG(seed, uint64(n)))
	var two, greater, less float64
	for k := range draws {
		s := 0.0
		for i, v := range d {
			if r.Exact && k>>i&1 == 1 || !r.Exact && source.IntN(2) == 1 {
				s -= v
			} else {
				s += v
			}
		}
		if math.Abs(s) >= math.Abs(observed)-tie {
			two++
		}
		if s >= observed-tie {
			greater++
		}
		if s <= observed+tie {
			less++
		}
	}
	count := float64(draws)
	if !r.Exact {
		two, greater, less, count = two+1, greater+1, less+1, count+1
	}
	r.Permutations = count
	r.TwoSided, r.Greater, r.Less = quantity.Some(two/count), quantity.Some(greater/count), quantity.Some(less/count)
	r.LeastP = quantity.Some(math.Min(1, 2*math.Pow(0.5, float64(n))))
	return r, nil
}
