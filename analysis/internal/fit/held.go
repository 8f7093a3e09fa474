package fit

// Held says which parameters of a curve a bound holds: End + Drop at the ceiling,
// Drop at zero, kappa and lag where they are. The penalised sum of squares has a
// gradient of zero in the others.
type Held struct{ Ceiling, Drop, Kappa, Lag bool }

// HeldAt returns what bounds hold of the best curve of the problem.
func (d *Decline) HeldAt(o Optimum) Held {
	g := grid{problem: &problem{d: d}, lag: d.coarseLag()}
	h := g.heldAt(&o)
	return Held{Ceiling: h.ceiling, Drop: h.drop, Kappa: h.kappa, Lag: h.lag}
}
