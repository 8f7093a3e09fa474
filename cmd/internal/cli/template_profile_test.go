package cli

import (
	"regexp"
	"strings"
	"testing"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/rig"
)

// TestProfileTemplate asks that the profile of a template can be read as it is, and with every key that stands in a
// comment taken out of it and a figure put for N: no key of it is unknown, and none that exists is missing.
func TestProfileTemplate(t *testing.T) {
	profiles, found := rig.Parse([]byte(profileTemplate), "simulator.yaml", nil)
	if found.Errors() > 0 || len(profiles) != 1 || profiles[0].Simulator != "trailer-1" || !profiles[0].ConfirmLevel || profiles[0].PressureLow.OK {
		t.Fatalf("as it is: %+v, %v", profiles, found.All())
	}
	keys := regexp.MustCompile(`(?m)^    # (\w+: .*|cover:|  - .*)$`).ReplaceAllString(profileTemplate, "    $1")
	n := 0
	keys = regexp.MustCompile(`\bN\b`).ReplaceAllStringFunc(keys, func(string) string {
		n++
		return []string{"5", "1", "14", "48", "9", "41", "55", "3", "45", "227", "19", "2", "0.5", "1", "2", "40", "30", "5"}[(n+16)%18]
	})
	profiles, found = rig.Parse([]byte(keys), "simulator.yaml", nil)
	if found.Errors() > 0 {
		t.Fatalf("filled in: %v\n%s", found.All(), keys)
	}
	r := profiles[0]
	if !r.PressureLow.OK || !r.TankL.OK || !r.HeelL.OK || !r.NozzleLMin.OK || !r.FallHeightM.OK || !r.RepeatabilityRel.OK || r.Drops == nil || len(r.SlopeClasses) != 3 ||
		r.Plots == 0 || !r.TrayShare.OK || !r.UEnergyRel.OK || len(r.Cover) != 1 {
		t.Errorf("filled in: %+v", r)
	}
	_, faults := rig.Parse([]byte("nonsense: 1\n"), "simulator.yaml", nil)
	for _, key := range knownKeys(faults.All()) {
		for _, part := range strings.Split(key, ".") {
			if !strings.Contains(profileTemplate, part+":") {
				t.Errorf("the template does not tell of %s", key)
			}
		}
	}
}

// knownKeys takes the keys out of the finding for an unknown one.
func knownKeys(found []issue.Issue) []string {
	_, list, _ := strings.Cut(found[0].Message, "use one of ")
	return strings.Split(list, ", ")
}
