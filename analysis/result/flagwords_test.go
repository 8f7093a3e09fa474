package result_test

import (
	"slices"
	"testing"

	"sheetwash/analysis/result"
)

func TestFlagWordsAreSortedAndExplained(t *testing.T) {
	words := result.FlagWords()
	for i, w := range words {
		if w.Meaning == "" {
			t.Errorf("%s has no meaning", w.Word)
		}
		if i > 0 && words[i-1].Word >= w.Word {
			t.Errorf("%s stands after %s", w.Word, words[i-1].Word)
		}
	}
}

func TestWordOf(t *testing.T) {
	for flag, want := range map[string]string{"gap": "gap", "held_share=0.5": "held_share"} {
		if got := result.WordOf(flag); got != want {
			t.Errorf("WordOf(%q) = %q, want %q", flag, got, want)
		}
	}
}

func TestFlagsKeepOrderOnce(t *testing.T) {
	var f result.Flags
	f.Add("b", "", "a", "b")
	if f.String() != "b a" || !slices.Equal(f, result.Flags{"b", "a"}) || !f.Has("a") || f.Has("c") {
		t.Errorf("flags are %q", f)
	}
}
