package season

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// ErrReference is returned for a reference treatment that the season does not have.
var ErrReference = errors.New("reference treatment")

// referenceWords are words in the name of a treatment that make it a reference,
// most telling first.
var referenceWords = []string{"control", "reference", "check", "bare", "fallow"}

// references ranks the treatments as references, the best first.
//
// The named one; else the one whose name holds, as a word of its own, control,
// reference, check, bare or fallow, in this order; among several the one in most events, then with most
// plots, then the first by name. Without such a word these three decide alone. A scope takes the best that it has.
func (d *gathered) references(settings Settings) ([]string, error) {
	named := settings.Reference
	if named == "" && slices.Contains(d.labels, settings.Preferred) {
		named = settings.Preferred
	}
	type candidate struct {
		label         string
		word          int
		events, plots int
		isNamed       bool
	}
	all := make([]candidate, len(d.labels))
	found := named == ""
	for i, l := range d.labels {
		c := candidate{label: l, word: wordOf(l), isNamed: l == named}
		found = found || c.isNamed
		for e := range d.events {
			most := 0
			for m := range len(d.catalogue) {
				if k := *d.cell(i, m, e); k != nil {
					most = max(most, len(k.units)+k.dry+k.missing)
				}
			}
			c.plots += most
			if most > 0 {
				c.events++
			}
		}
		all[i] = c
	}
	if !found {
		return nil, fmt.Errorf("%w: the season has no treatment %q; it has %s", ErrReference, named, strings.Join(d.labels, "; "))
	}
	slices.SortStableFunc(all, func(a, b candidate) int {
		if a.isNamed != b.isNamed {
			if a.isNamed {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(a.word, b.word), cmp.Compare(b.events, a.events), cmp.Compare(b.plots, a.plots), cmp.Compare(a.label, b.label))
	})
	var out []string
	if named == "" && settings.Preferred != "" {
		out = append(out, settings.Preferred) // which every scope lacks, and says so
	}
	for _, c := range all {
		out = append(out, c.label)
	}
	return out, nil
}

// named reports whether a reference was asked for.
func (s Settings) named() bool { return s.Reference != "" || s.Preferred != "" }

// wordOf returns the place of a treatment's word among the reference words.
func wordOf(label string) int {
	words := strings.FieldsFunc(strings.ToLower(label), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	for i, w := range referenceWords {
		if slices.Contains(words, w) {
			return i
		}
	}
	return len(referenceWords)
}
