package fit

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// expression evaluates a formula such as "b1*exp(-b2*x)" with the values of its
// names in an order.
type expression func(values []float64) float64

// parser reads formulas of + - * / ^, brackets, names and functions by descent.
type parser struct {
	text  string
	names []string
	at    int
}

func parse(text string, names []string) (e expression, err error) {
	p := &parser{text: strings.ReplaceAll(text, " ", ""), names: names}
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("formula %q: %v", text, r)
		}
	}()
	e = p.sum()
	if p.at < len(p.text) {
		return nil, fmt.Errorf("formula %q: %q is left over", text, p.text[p.at:])
	}
	return e, nil
}

func (p *parser) take(c string) bool {
	if strings.HasPrefix(p.text[p.at:], c) {
		p.at += len(c)
		return true
	}
	return false
}

func (p *parser) sum() expression {
	left := p.product()
	for {
		l := left
		switch {
		case p.take("+"):
			r := p.product()
			left = func(v []float64) float64 { return l(v) + r(v) }
		case p.take("-"):
			r := p.product()
			left = func(v []float64) float64 { return l(v) - r(v) }
		default:
			return left
		}
	}
}

func (p *parser) product() expression {
	left := p.sign()
	for {
		l := left
		switch {
		case strings.HasPrefix(p.text[p.at:], "**"):
			return left
		case p.take("*"):
			r := p.sign()
			left = func(v []float64) float64 { return l(v) * r(v) }
		case p.take("/"):
			r := p.sign()
			left = func(v []float64) float64 { return l(v) / r(v) }
		default:
			return left
		}
	}
}

// sign binds less than a power: -x^2 is -(x^2).
func (p *parser) sign() expression {
	if p.take("-") {
		e := p.sign()
		return func(v []float64) float64 { return -e(v) }
	}
	if p.take("+") {
		return p.sign()
	}
	return p.power()
}

func (p *parser) power() expression {
	base := p.atom()
	if p.take("^") || p.take("**") {
		exponent := p.sign()
		return func(v []float64) float64 { return math.Pow(base(v), exponent(v)) }
	}
	return base
}

var functions = map[string]func(float64) float64{
	"exp": math.Exp, "log": math.Log, "ln": math.Log, "sqrt": math.Sqrt, "cos": math.Cos, "sin": math.Sin,
	"tan": math.Tan, "arctan": math.Atan, "atan": math.Atan, "abs": math.Abs,
}

func (p *parser) atom() expression {
	if p.take("(") {
		e := p.sum()
		if !p.take(")") {
			panic("a bracket is not closed")
		}
		return e
	}
	from := p.at
	for p.at < len(p.text) {
		c := rune(p.text[p.at])
		exponent := (c == '-' || c == '+') && p.at > from && strings.ContainsRune("eE", rune(p.text[p.at-1])) && unicode.IsDigit(rune(p.text[from]))
		if !unicode.IsLetter(c) && !unicode.IsDigit(c) && c != '.' && c != '_' && !exponent {
			break
		}
		p.at++
	}
	word := p.text[from:p.at]
	if n, err := strconv.ParseFloat(word, 64); err == nil {
		return func([]float64) float64 { return n }
	}
	if word == "" {
		panic("something is missing")
	}
	if p.take("(") {
		f, ok := functions[word]
		if !ok {
			panic("no function " + word)
		}
		e := p.sum()
		if !p.take(")") {
			panic("a bracket is not closed")
		}
		return func(v []float64) float64 { return f(e(v)) }
	}
	if word == "pi" {
		return func([]float64) float64 { return math.Pi }
	}
	n := slices.Index(p.names, word)
	if n < 0 {
		panic("no value of " + word)
	}
	return func(v []float64) float64 { return v[n] }
}
