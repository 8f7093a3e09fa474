package units

import (
	"slices"
	"strings"

	"sheetwash/analysis/quantity"
)

// token is one unit of a compound and how it is joined to what stands before.
type token struct {
	join     byte // '/', '.', or ' ' where nothing says which
	readings []candidate
	exponent string
}

// compounds reads a spelling as units joined by slashes, dots, blanks or
// underscores, each of which may be a word of the trade, and returns the codes
// that follow.
func compounds(text string) []candidate {
	tokens, ok := tokenise(text)
	if !ok {
		return nil
	}
	for _, t := range tokens {
		if t.join == '/' || strings.HasPrefix(t.exponent, "-") {
			return combine(tokens, '.') // it says itself what is per what
		}
	}
	out := append(combine(tokens, '/'), combine(tokens, '.')...)
	for i := range tokens {
		tokens[i].join = ' ' // "mL.min" in a header where dots are blanks
	}
	return append(out, combine(tokens, '/')...)
}

// tokenise cuts a spelling into units.
func tokenise(text string) ([]token, bool) {
	for _, p := range phrases {
		text = replaceFold(text, p.words, p.word)
	}
	var tokens []token
	join := byte('.')
	for text != "" {
		end := strings.IndexAny(text, "/._ ")
		if end < 0 {
			end = len(text)
		}
		if t, ok := readToken(text[:end], join); ok {
			tokens = append(tokens, t)
		} else {
			return nil, false
		}
		if len(tokens) > maxTokens {
			return nil, false
		}
		text, join = nextJoin(text[end:])
	}
	return tokens, len(tokens) > 0
}

// nextJoin takes the separators off the front and says what they mean.
func nextJoin(text string) (rest string, join byte) {
	join = ' '
	for text != "" && strings.IndexByte("/._ ", text[0]) >= 0 {
		if c := text[0]; c == '/' || c == '.' && join != '/' {
			join = c
		}
		text = text[1:]
	}
	return text, join
}

// readToken reads a unit with its exponent: "m2", "h-1", "gal".
func readToken(text string, join byte) (token, bool) {
	name := strings.TrimRight(text, "0123456789")
	exponent := text[len(name):]
	if n := len(name); n > 0 && (name[n-1] == '-' || name[n-1] == '+') && exponent != "" {
		exponent = name[n-1:] + exponent
		name = name[:n-1]
	}
	t := token{join: join, exponent: exponent}
	if name == "" {
		return t, text == "1" && join == '.'
	}
	if _, trap := caseTraps[name]; !trap {
		if _, err := quantity.Parse(name); err == nil {
			t.readings = append(t.readings, candidate{code: name})
		}
	}
	t.readings = append(t.readings, words(name)...)
	return t, len(t.readings) > 0
}

// combine returns every choice of readings, with open as the meaning of a
// separator that does not say.
func combine(tokens []token, open byte) []candidate {
	out := []candidate{{}}
	for i, t := range tokens {
		join := t.join
		if join == ' ' {
			join = open
		}
		readings := t.readings
		if readings == nil {
			readings = []candidate{{code: "1"}}
		}
		var next []candidate
		for _, o := range out {
			for _, r := range readings {
				code := r.code
				if strings.ContainsAny(code, "./") || t.exponent != "" && strings.ContainsAny(code, "0123456789") {
					code = "(" + code + ")"
				}
				if strings.HasPrefix(code, "(") && t.exponent != "" {
					continue // UCUM raises symbols, not terms
				}
				code += strings.TrimPrefix(t.exponent, "+")
				if i > 0 {
					code = o.code + string(join) + code
				}
				next = append(next, candidate{code: code, notes: append(slices.Clone(o.notes), r.notes...)})
			}
		}
		out = next
	}
	return out
}

// replaceFold replaces old by word without regard to case, where blanks,
// underscores and dots between the words of old are one.
func replaceFold(text string, old []string, word string) string {
	lower := strings.ToLower(text)
	if len(lower) != len(text) {
		return text
	}
	for at := 0; at < len(lower); at++ {
		if at > 0 && isLetter(lower[at-1]) {
			continue
		}
		end, ok := matchWords(lower, at, old)
		if ok && (end == len(lower) || !isLetter(lower[end])) {
			return text[:at] + word + text[end:]
		}
	}
	return text
}

func matchWords(text string, at int, old []string) (end int, ok bool) {
	for i, w := range old {
		if i > 0 {
			start := at
			for at < len(text) && strings.IndexByte(" _.", text[at]) >= 0 {
				at++
			}
			if at == start {
				return 0, false
			}
		}
		if !strings.HasPrefix(text[at:], w) {
			return 0, false
		}
		at += len(w)
	}
	return at, true
}

func isLetter(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' }
