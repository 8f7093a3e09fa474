package table

import (
	"bytes"
	"encoding/binary"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// encoding is how the expanded bytes of a file stand for characters.
type encoding uint8

const (
	ascii encoding = iota // nothing beyond ASCII was met so far: not decided
	utf8Text
	utf8Mark // UTF-8 with a byte-order mark
	utf16LE
	utf16BE
	windows1252
)

func (e encoding) String() string {
	switch e {
	case utf8Mark:
		return "UTF-8 with a byte-order mark"
	case utf16LE:
		return "UTF-16 (little-endian)"
	case utf16BE:
		return "UTF-16 (big-endian)"
	case windows1252:
		return "Windows-1252"
	default:
		return "UTF-8"
	}
}

// source reads the text of a file as UTF-8, once and in order: it expands,
// recognises the encoding and decodes as it goes. Text that is ASCII so far
// stays undecided; the first stretch with other bytes settles it for the rest.
type source struct {
	r   io.Reader
	raw *rawReader
	enc encoding

	stated string // encoding that the caller states; "": to be recognised
	agreed bool   // the encoding is the stated one
	packed compression
	failed error // why the expanded text ends early; nil: it ended as it should
	done   bool
}

// open sets up the source by name and first bytes.
func (s *source) open(r io.Reader, file string, maxBytes int64) {
	s.raw = &rawReader{r: r}
	head, err := peek(s.raw, 8)
	s.packed = compressionByContent(head)
	byName := compressionByName(file)
	if s.packed == plain {
		s.packed = byName
	}
	s.r = resume(head, err, s.raw)
	if s.packed != plain {
		expanded, err := expand(s.r, s.packed)
		if err != nil {
			s.fail(err)
			return
		}
		s.r = expanded
	}
	if maxBytes > 0 {
		s.r = &limited{r: s.r, left: maxBytes}
	}
	s.openEncoding()
}

// openEncoding recognises byte-order marks, and UTF-16 without one by its many
// zero bytes at either the even or the odd places.
func (s *source) openEncoding() {
	head, err := peek(s.r, 1024)
	s.enc = encodingByMark(head)
	s.state(head)
	rest := head
	switch s.enc {
	case utf8Mark:
		rest = head[3:]
	case utf16LE, utf16BE:
		if len(head) < 2 {
			break
		}
		if binary.LittleEndian.Uint16(head) == 0xfeff || binary.BigEndian.Uint16(head) == 0xfeff {
			rest = head[2:]
		}
	}
	s.r = resume(rest, err, s.r)
	switch s.enc {
	case utf16LE:
		s.r = transform.NewReader(s.r, unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM).NewDecoder())
	case utf16BE:
		s.r = transform.NewReader(s.r, unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM).NewDecoder())
	case windows1252:
		s.r = transform.NewReader(s.r, charmap.Windows1252.NewDecoder())
	}
}

// state lets the stated encoding stand where no byte-order mark says otherwise.
func (s *source) state(head []byte) {
	marked := s.enc == utf8Mark || bytes.HasPrefix(head, []byte{0xff, 0xfe}) || bytes.HasPrefix(head, []byte{0xfe, 0xff})
	wide := s.enc == utf16LE || s.enc == utf16BE
	switch {
	case s.stated == "":
	case s.stated == "utf-16":
		if s.agreed = wide; !marked && !wide {
			s.enc, s.agreed = utf16LE, true
		}
	case marked:
		s.agreed = s.stated == "utf-8" && s.enc == utf8Mark
	case s.stated == "utf-8":
		s.enc, s.agreed = utf8Text, true
	case s.stated == "windows-1252":
		s.enc, s.agreed = windows1252, true
	}
}

func encodingByMark(head []byte) encoding {
	switch {
	case bytes.HasPrefix(head, []byte{0xef, 0xbb, 0xbf}):
		return utf8Mark
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}):
		return utf16LE
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return utf16BE
	}
	pairs := len(head) / 2
	if pairs < 2 {
		return ascii
	}
	var even, odd int
	for i := 0; i+1 < len(head); i += 2 {
		if head[i] == 0 {
			even++
		}
		if head[i+1] == 0 {
			odd++
		}
	}
	switch {
	case odd*10 > pairs*7 && even*20 < pairs:
		return utf16LE
	case even*10 > pairs*7 && odd*20 < pairs:
		return utf16BE
	}
	return ascii
}

// fill reads until buf is full or the text ends, and returns how much it read.
// It keeps the reason of an early end in s.failed.
func (s *source) fill(buf []byte) int {
	n := s.readFull(buf)
	if s.enc != ascii || isASCII(buf[:n]) {
		return n
	}
	if validPrefix(buf[:n], s.done) {
		s.enc = utf8Text
		return n
	}
	s.enc = windows1252
	var end error
	if s.done {
		if end = s.failed; end == nil {
			end = io.EOF
		}
	}
	s.done, s.failed = false, nil
	s.r = transform.NewReader(resume(bytes.Clone(buf[:n]), end, s.r), charmap.Windows1252.NewDecoder())
	return s.readFull(buf)
}

func (s *source) readFull(buf []byte) int {
	n := 0
	for n < len(buf) && !s.done {
		m, err := s.r.Read(buf[n:])
		n += m
		if err != nil {
			s.fail(err)
		}
	}
	return n
}

func (s *source) fail(err error) {
	s.done = true
	if err != io.EOF && s.failed == nil {
		s.failed = err
	}
}

// inputError returns the error of the medium, if that is why the text ended.
func (s *source) inputError() error { return s.raw.err }

// peek reads up to n bytes; fewer only with the error that ended the reading.
func peek(r io.Reader, n int) ([]byte, error) {
	head := make([]byte, n)
	m := 0
	for m < n {
		k, err := r.Read(head[m:])
		m += k
		if err != nil {
			return head[:m], err
		}
	}
	return head, nil
}

// resume returns a reader of what was peeked at and then of r, or of the error
// that ended the peeking.
func resume(head []byte, err error, r io.Reader) io.Reader {
	if err != nil {
		r = ended{err}
	}
	return io.MultiReader(bytes.NewReader(head), r)
}

// ended is a reader that has nothing but its error.
type ended struct{ err error }

func (e ended) Read([]byte) (int, error) { return 0, e.err }

// isASCII reports whether no byte has its high bit set.
func isASCII(b []byte) bool {
	const high = 0x8080808080808080
	for len(b) >= 32 {
		w := binary.LittleEndian.Uint64(b) | binary.LittleEndian.Uint64(b[8:]) |
			binary.LittleEndian.Uint64(b[16:]) | binary.LittleEndian.Uint64(b[24:])
		if w&high != 0 {
			return false
		}
		b = b[32:]
	}
	for _, c := range b {
		if c >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// validPrefix reports whether b is UTF-8, but for a last character that the end
// of the stretch may have cut.
func validPrefix(b []byte, ended bool) bool {
	if !ended {
		for back := 1; back <= 3 && back <= len(b); back++ {
			c := b[len(b)-back]
			if utf8.RuneStart(c) {
				if !utf8.FullRune(b[len(b)-back:]) {
					b = b[:len(b)-back]
				}
				break
			}
		}
	}
	return utf8.Valid(b)
}
