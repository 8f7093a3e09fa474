package fit

import "math"

// nothing is the exponent from which on an exponential is taken for 0.
const nothing = 45

// decays fills out with exp(-rate x) for rising x >= 0, to a unit of the last
// digit. It is a third of the time of math.Exp, of which a search does little
// else.
//
// With n the nearest whole number of 64ths of a power of two, exp(y) =
// 2^(n/64) exp(r): the first from a table, the second, |r| < ln 2/128, from its
// series (Tang 1989, ACM Trans. Math. Softw. 15:144-157).
func decays(rate float64, x, out []float64) {
	out = out[:len(x)]
	for k, v := range x {
		v *= rate
		if !(v <= nothing) {
			clear(out[k:])
			return
		}
		n := int(v*(1/(stepHigh+stepLow)) + 0.5)
		r := (float64(n)*stepHigh - v) + float64(n)*stepLow
		series := r + r*r*(1./2+r*(1./6+r*(1./24+r*(1./120))))
		n = -n
		power := sixtyFourths[n&63]
		power = math.Float64frombits(math.Float64bits(power) + uint64(n>>6)<<52)
		out[k] = power + power*series
	}
}

// ln 2/64 in two parts, of which the first times n has no rounding error.
const stepHigh, stepLow = 0x1.62e42fef00000p-7, 0x1.473de6af278edp-40

// sixtyFourths are 2^(n/64).
var sixtyFourths = [64]float64{
	0x1.0000000000000p+0, 0x1.02c9a3e778061p+0, 0x1.059b0d3158574p+0, 0x1.0874518759bc8p+0,
	0x1.0b5586cf9890fp+0, 0x1.0e3ec32d3d1a2p+0, 0x1.11301d0125b51p+0, 0x1.1429aaea92de0p+0,
	0x1.172b83c7d517bp+0, 0x1.1a35beb6fcb75p+0, 0x1.1d4873168b9aap+0, 0x1.2063b88628cd6p+0,
	0x1.2387a6e756238p+0, 0x1.26b4565e27cddp+0, 0x1.29e9df51fdee1p+0, 0x1.2d285a6e4030bp+0,
	0x1.306fe0a31b715p+0, 0x1.33c08b26416ffp+0, 0x1.371a7373aa9cbp+0, 0x1.3a7db34e59ff7p+0,
	0x1.3dea64c123422p+0, 0x1.4160a21f72e2ap+0, 0x1.44e086061892dp+0, 0x1.486a2b5c13cd0p+0,
	0x1.4bfdad5362a27p+0, 0x1.4f9b2769d2ca7p+0, 0x1.5342b569d4f82p+0, 0x1.56f4736b527dap+0,
	0x1.5ab07dd485429p+0, 0x1.5e76f15ad2148p+0, 0x1.6247eb03a5585p+0, 0x1.6623882552225p+0,
	0x1.6a09e667f3bcdp+0, 0x1.6dfb23c651a2fp+0, 0x1.71f75e8ec5f74p+0, 0x1.75feb564267c9p+0,
	0x1.7a11473eb0187p+0, 0x1.7e2f336cf4e62p+0, 0x1.82589994cce13p+0, 0x1.868d99b4492edp+0,
	0x1.8ace5422aa0dbp+0, 0x1.8f1ae99157736p+0, 0x1.93737b0cdc5e5p+0, 0x1.97d829fde4e50p+0,
	0x1.9c49182a3f090p+0, 0x1.a0c667b5de565p+0, 0x1.a5503b23e255dp+0, 0x1.a9e6b5579fdbfp+0,
	0x1.ae89f995ad3adp+0, 0x1.b33a2b84f15fbp+0, 0x1.b7f76f2fb5e47p+0, 0x1.bcc1e904bc1d2p+0,
	0x1.c199bdd85529cp+0, 0x1.c67f12e57d14bp+0, 0x1.cb720dcef9069p+0, 0x1.d072d4a07897cp+0,
	0x1.d5818dcfba487p+0, 0x1.da9e603db3285p+0, 0x1.dfc97337b9b5fp+0, 0x1.e502ee78b3ff6p+0,
	0x1.ea4afa2a490dap+0, 0x1.efa1bee615a27p+0, 0x1.f50765b6e4540p+0, 0x1.fa7c1819e90d8p+0,
}
