package page

import "slices"

// colophon says by what, from what and how the numbers of a page were made. No
// names: all datasets.
func (s *Site) colophon(names []string) []phrase {
	p := s.in.Program
	made := "Computed by " + p.Name + " " + p.Version
	if p.Revision != "" {
		made += " (revision " + p.Revision + ")"
	}
	out := []phrase{fact(made + ". Values are rounded by their standard uncertainty; the result tables hold all digits.")}
	for _, d := range s.in.Datasets {
		if d.SHA256 != "" && (len(names) == 0 || slices.Contains(names, d.Name)) {
			out = append(out, fact("Data "+d.Name+", SHA-256 "+d.SHA256+"."))
		}
	}
	return append(out, say("Results are for teaching and research, not for engineering design."))
}
