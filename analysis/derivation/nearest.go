package derivation

import (
	"cmp"
	"slices"

	"github.com/agnivade/levenshtein"
)

// Nearest returns the n keys that are most like one, the likest first, equal ones
// in their order: by the number of letters that have to be put in, taken out or
// changed (Levenshtein 1966).
func Nearest(key string, keys []string, n int) []string {
	type near struct {
		key      string
		distance int
	}
	all := make([]near, len(keys))
	for i, k := range keys {
		all[i] = near{k, levenshtein.ComputeDistance(key, k)}
	}
	slices.SortStableFunc(all, func(a, b near) int { return cmp.Compare(a.distance, b.distance) })
	out := make([]string, 0, n)
	for _, k := range all[:min(n, len(all))] {
		out = append(out, k.key)
	}
	return out
}
