package figure

import (
	"image/color"

	"gonum.org/v1/plot/vg"
)

// paint is a colour with the name under which a page can change it.
type paint struct {
	color.NRGBA
	name string
}

func rgb(name string, hex uint32) paint {
	return paint{color.NRGBA{uint8(hex >> 16), uint8(hex >> 8), uint8(hex), 255}, name}
}

// The paints that are not of a treatment. Water, Drain and Soil are of the set of
// Okabe & Ito (2008), whose colours can be told apart without colour vision.
var (
	ink   = rgb("ink", 0x1b2328)
	mute  = rgb("mute", 0x4f5b62)
	grid  = rgb("grid", 0xd5dbde)
	paper = rgb("paper", 0xffffff)
	water = rgb("water", 0x0072b2)
	drain = rgb("drain", 0x56b4e9)
	store = rgb("store", 0xe3e9e4)
	soil  = rgb("soil", 0xd55e00)
	shade = rgb("shade", 0xc9d6de) // bands of uncertainty
)

// treatments are the colours of treatments, those of Okabe & Ito (2008) without the
// yellow, which is too pale for a line on white.
var treatments = [...]paint{
	rgb("c0", 0x0072b2), rgb("c1", 0xd55e00), rgb("c2", 0x009e73), rgb("c3", 0xe69f00),
	rgb("c4", 0xcc79a7), rgb("c5", 0x56b4e9), rgb("c6", 0x1b2328),
}

// dashes tell lines apart in grey.
var dashes = [...][]vg.Length{nil, {7, 3}, {2, 2.5}, {9, 3, 2, 3}, {4, 2}, {12, 4}, {1, 4}}

// Style is how a treatment looks in every chart: a colour, a marker and a dash
// that belong together. Styles repeat after 49.
type Style int

func (s Style) index() int {
	n := len(treatments)
	return ((int(s) % (n * n)) + n*n) % (n * n)
}

func (s Style) paint() paint { return treatments[s.index()%len(treatments)] }

// second is the marker and the dash: the next one each time the colours repeat.
func (s Style) second() int { return (s.index() + s.index()/len(treatments)) % len(treatments) }

func (s Style) dash() []vg.Length { return dashes[s.second()] }

// Role is what an area or a line stands for where it is not a treatment.
type Role uint8

// The roles.
const (
	Runoff Role = iota
	Drained
	Stored
	Sediment
	Rain
	Fitted
	Infiltrated
)

func (r Role) paint() paint {
	return [...]paint{water, drain, store, soil, mute, ink, treatments[2]}[r]
}
