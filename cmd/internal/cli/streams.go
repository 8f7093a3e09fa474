package cli

import (
	"fmt"
	"io"
	"os"

	"golang.org/x/term"
)

// streams are the ends of one command: what it reads, where data and messages
// go, and what the person at the terminal can see.
type streams struct {
	in       io.Reader
	out, err io.Writer
	env      func(string) string
	quiet    bool // only errors on err
	json     bool
	noColor  bool
}

// say writes a message line, unless the command is to be quiet.
func (s *streams) say(format string, args ...any) {
	if !s.quiet {
		fmt.Fprintf(s.err, format+"\n", args...)
	}
}

// color reports whether text for w may be coloured.
func (s *streams) color(w io.Writer) bool {
	return !s.noColor && s.env("NO_COLOR") == "" && s.env("TERM") != "dumb" && isTerminal(w)
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
