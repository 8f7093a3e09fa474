package quantity

import (
	"fmt"
	"math/big"
	"strings"
)

// Limits that keep a hostile code from costing more than a glance.
const (
	maxCode  = 80 // bytes
	maxDepth = 8  // nested parentheses
	maxPower = 9  // exponent of one component
)

// Parse reads a UCUM code such as "mm/h", "[gal_us]/min", "MJ.mm/(har.h)" or
// "g/L". The whole grammar is read: metric prefixes, "." and "/" (worked off
// from the left, so that "g/m2/h" is "g/(m2.h)"), exponents, parentheses, whole
// factors and annotations in braces. {NTU}, {FNU} and {FTU} standing alone are
// units of turbidity; any other annotation is a remark.
//
// Temperature scales (Cel, [degF]) stand alone and take no prefix or exponent.
// It returns ErrUnit with the place of the fault.
func Parse(ucum string) (Unit, error) {
	if ucum == "" || len(ucum) > maxCode {
		return Unit{}, fmt.Errorf("%w: %q", ErrUnit, clip(ucum))
	}
	if s, ok := scales[ucum]; ok {
		return Unit{Code: ucum, dim: s.dim, factor: s.factor, offset: s.offset}, nil
	}
	p := parser{code: ucum}
	u, err := p.term()
	if err == nil && p.at < len(p.code) {
		err = p.fault()
	}
	if err != nil {
		return Unit{}, err
	}
	u.Code = ucum
	return u, nil
}

// MustParse is Parse for codes that stand in the program's own tables; it
// panics for a code that is not known.
func MustParse(ucum string) Unit {
	u, err := Parse(ucum)
	if err != nil {
		panic(err)
	}
	return u
}

type parser struct {
	code  string
	at    int
	depth int
}

func (p *parser) fault() error {
	return fmt.Errorf("%w: %q at character %d", ErrUnit, p.code, p.at+1)
}

// term reads components joined by "." and "/", with a leading "/" allowed.
func (p *parser) term() (Unit, error) {
	u := Unit{factor: one}
	sign := 1
	if p.take('/') {
		sign = -1
	}
	for {
		c, err := p.component()
		if err != nil {
			return Unit{}, err
		}
		if u, err = p.multiply(u, c, sign); err != nil {
			return Unit{}, err
		}
		switch {
		case p.take('.'):
			sign = 1
		case p.take('/'):
			sign = -1
		default:
			return u, nil
		}
	}
}

func (p *parser) take(c byte) bool {
	if p.at < len(p.code) && p.code[p.at] == c {
		p.at++
		return true
	}
	return false
}

// component reads a term in parentheses, an annotation, a whole factor, or a
// symbol with its exponent and annotation.
func (p *parser) component() (Unit, error) {
	if p.take('(') {
		if p.depth++; p.depth > maxDepth {
			return Unit{}, p.fault()
		}
		u, err := p.term()
		if err != nil {
			return Unit{}, err
		}
		if p.depth--; !p.take(')') {
			return Unit{}, p.fault()
		}
		return u, nil
	}
	if p.at < len(p.code) && p.code[p.at] == '{' {
		word, ok := p.annotation()
		if !ok {
			return Unit{}, p.fault()
		}
		if turbidityScales[word] {
			return Unit{dim: Turbidity, factor: one}, nil
		}
		return Unit{factor: one}, nil
	}
	return p.symbol()
}

// annotation reads {…} and returns what stands between the braces.
func (p *parser) annotation() (string, bool) {
	n := strings.IndexByte(p.code[p.at:], '}')
	if n < 0 {
		return "", false
	}
	word := p.code[p.at+1 : p.at+n]
	for _, c := range []byte(word) {
		if c <= ' ' || c > '~' || c == '{' {
			return "", false
		}
	}
	p.at += n + 1
	return word, true
}

// symbol reads a whole factor, or an atom with prefix, exponent and annotation.
func (p *parser) symbol() (Unit, error) {
	start := p.at
	if digits := p.digits(); digits != "" {
		if len(digits) > maxPower {
			p.at = start
			return Unit{}, p.fault()
		}
		n, _ := new(big.Int).SetString(digits, 10)
		if n.Sign() == 0 {
			p.at = start
			return Unit{}, p.fault()
		}
		// 10* and 10^ are UCUM's names of the number ten, to be raised.
		if digits != "10" || (!p.take('*') && !p.take('^')) {
			return p.annotated(Unit{factor: new(big.Rat).SetInt(n)})
		}
		return p.raised(Unit{factor: new(big.Rat).SetInt(n)})
	}
	name := p.name()
	u, ok := lookUp(name)
	if !ok {
		p.at = start
		return Unit{}, p.fault()
	}
	return p.raised(u)
}

func (p *parser) raised(u Unit) (Unit, error) {
	start := p.at
	sign := 1
	if p.take('-') {
		sign = -1
	} else {
		p.take('+')
	}
	digits := p.digits()
	switch {
	case digits == "" && p.at > start, len(digits) > 1, digits == "0":
		p.at = start
		return Unit{}, p.fault()
	case digits == "":
		return p.annotated(u)
	}
	power, err := p.multiply(Unit{factor: one}, u, sign*int(digits[0]-'0'))
	if err != nil {
		return Unit{}, err
	}
	return p.annotated(power)
}

func (p *parser) annotated(u Unit) (Unit, error) {
	if p.at < len(p.code) && p.code[p.at] == '{' {
		if _, ok := p.annotation(); !ok {
			return Unit{}, p.fault()
		}
	}
	return u, nil
}

func (p *parser) digits() string {
	start := p.at
	for p.at < len(p.code) && p.code[p.at] >= '0' && p.code[p.at] <= '9' {
		p.at++
	}
	return p.code[start:p.at]
}

// name reads the letters of a symbol. Digits and signs inside square brackets
// belong to the symbol.
func (p *parser) name() string {
	start := p.at
	for p.at < len(p.code) {
		switch c := p.code[p.at]; {
		case c == '[':
			end := strings.IndexByte(p.code[p.at:], ']')
			if end < 0 {
				return ""
			}
			p.at += end + 1
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c == '%', c == '_', c == '\'':
			p.at++
		default:
			return p.code[start:p.at]
		}
	}
	return p.code[start:p.at]
}

// multiply returns u times v to the power n.
func (p *parser) multiply(u, v Unit, n int) (Unit, error) {
	dim, ok := u.dim.add(v.dim, n)
	if !ok {
		return Unit{}, p.fault()
	}
	f := new(big.Rat).Set(orOne(u.factor))
	base := orOne(v.factor)
	if n < 0 {
		base = new(big.Rat).Inv(base)
		n = -n
	}
	for range n {
		f.Mul(f, base)
	}
	return Unit{dim: dim, factor: f}, nil
}

func clip(s string) string {
	if len(s) > maxCode {
		return s[:maxCode] + "…"
	}
	return s
}
