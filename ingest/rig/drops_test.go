package rig_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"sheetwash/ingest/rig"
)

// Two minutes of a laser disdrometer as it counts, and of the same instrument as
// concentrations: rows of nasa_gv_ifloods_apu_test.txt and apu_nasa_mc3e_dsd.txt,
// NASA GPM Ground Validation, IFloodS 2013 and MC3E 2011 (US federal agency).
const (
	counted = " 2013  115    1   26   0   0   0   0   0   4   4   2   1   1   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0\n" +
		" 2013  115    1   27   0   0   0   7   7   2   0   1   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0\n"
	concentrated = " 2011  140    1   28    0.0000    0.0000   40.1522   55.9295   67.5148   26.4667" + zeros26 + "\n" +
		" 2011  140    1   29    0.0000    0.0000   78.3325   54.3554   44.2707    0.0000    5.5145    5.5266" + zeros24 + "\n"
	zeros24 = " 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0 0.0"
	zeros26 = zeros24 + " 0.0 0.0"
)

func TestCountsAndConcentrations(t *testing.T) {
	c, err := rig.ParseDrops([]byte(counted), nil)
	if err != nil || c.Concentration || len(c.Classes) != 32 {
		t.Fatalf("counts: %+v, %v", c, err)
	}
	// The sixth class is 0.625 to 0.75 mm and holds 4 + 2 drops; the eleventh begins at 1.25 mm; the last ends at 26 mm.
	if k := c.Classes[5]; k.FromMM != 0.625 || k.ToMM != 0.75 || k.Value != 6 {
		t.Errorf("class 6: %+v", k)
	}
	if c.Classes[10].FromMM != 1.25 || c.Classes[31].ToMM != 26 {
		t.Errorf("classes %+v", c.Classes)
	}
	n, err := rig.ParseDrops([]byte(concentrated), nil)
	if err != nil || !n.Concentration {
		t.Fatalf("concentrations: %+v, %v", n, err)
	}
	if want := (40.1522 + 78.3325) / 2; math.Abs(n.Classes[2].Value-want) > 1e-12 {
		t.Errorf("class 3: %v, want the mean %v", n.Classes[2].Value, want)
	}
}

func TestFaultsOfDrops(t *testing.T) {
	for name, text := range map[string]string{
		"empty": "", "time only": "2013 115 1 26\n", "ragged": "2013 115 1 26 1 2\n2013 115 1 27 1\n", "negative": "2013 115 1 26 -1 2\n",
		"a word": "2013 115 1 26 x 2\n", "not finite": "2013 115 1 26 NaN 2\n", "unknown classes": "2013 115 1 26 1 2 3\n",
		"too many": "2013 115 1 26" + strings.Repeat(" 1", 2000) + "\n",
	} {
		if _, err := rig.ParseDrops([]byte(text), nil); !errors.Is(err, rig.ErrDrops) {
			t.Errorf("%s: %v, want ErrDrops", name, err)
		}
	}
	if _, err := rig.ParseDrops([]byte("2013,115,1,26,1,2\n"), []float64{0.5, 1, 2}); err != nil {
		t.Errorf("own edges and commas: %v", err)
	}
}

func FuzzParseDrops(f *testing.F) {
	f.Add(counted)
	f.Add(concentrated)
	f.Fuzz(func(t *testing.T, text string) {
		table, err := rig.ParseDrops([]byte(text), nil)
		if err != nil {
			if !errors.Is(err, rig.ErrDrops) {
				t.Fatal(err)
			}
			return
		}
		for _, c := range table.Classes {
			if !(c.ToMM > c.FromMM && c.Value >= 0) || math.IsInf(c.Value, 0) {
				t.Fatalf("class %+v", c)
			}
		}
	})
}
