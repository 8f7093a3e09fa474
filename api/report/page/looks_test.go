package page_test

import (
	"bytes"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	pdf "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// sheets are the sizes of paper, inches.
var sheets = []struct {
	name          string
	width, height float64
}{{"A4", 8.27, 11.69}, {"Letter", 8.5, 11}}

// The pages of the demo print on as many sheets as docs/reports.md states, none of
// which is cut at the right.
func TestPrinting(t *testing.T) {
	b := open(t, sites(t))
	if b == nil {
		return
	}
	for path, most := range map[string]int{"/si/event/Ashlock Mill": 2, "/us/event/Brackenfold": 2, "/si/run/Tarn GateTG-1": 9, "/si/season/": 20} {
		for _, s := range sheets {
			if s.name == "A4" && !strings.Contains(path, "/event/") {
				continue // the smaller sheet tells enough of the long pages
			}
			b.visit(t, escaped(path), 1000, "dark")
			data := call(t, b, pdf.PrintToPDF, pdf.PrintToPDFParams{PaperWidth: s.width, PaperHeight: s.height}).Data
			call(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
			b.window(t, int64(s.width*96-91), 900, 1) // less the margins of 12 mm
			wider := evaluate[float64](t, b, overflow)
			n := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(data, -1))
			if n == 0 || n > most {
				t.Errorf("%s prints on %d sheets of %s, want at most %d", path, n, s.name, most)
			}
			if wider > 1 {
				t.Errorf("%s is %v px wider than %s", path, wider, s.name)
			}
		}
	}
	b.quiet(t)
}

// The pages look as they looked when somebody looked at them: small pictures,
// compared with a tolerance. A picture that is meant to change is written anew with
// -update, and looked at.
func TestPictures(t *testing.T) {
	all := sites(t)
	b := open(t, all)
	if b == nil {
		return
	}
	for _, p := range []struct {
		name, path, scheme string
		width              int64
		scale              float64
	}{
		{"event-light", "/si/event/Ashlock Mill", "light", 1280, 0.4},
		{"event-dark", "/us/event/Brackenfold", "dark", 1280, 0.4},
		{"event-phone", "/us/event/Tarn Gate", "light", 390, 0.5},
		{"run-light", "/si/run/Pell FarmPF-2", "light", 1280, 0.35},
		{"season-light", "/si/season/", "light", 1280, 0.25},
		{"hostile", looked(all)[4], "light", 1280, 0.25},
	} {
		b.visit(t, escaped(p.path), p.width, p.scheme)
		if !evaluate[bool](t, b, liberation) {
			leftOut(t, "the letters of the golden pictures, Liberation Sans, are not installed; . .ci/browser installs them")
			return
		}
		b.window(t, p.width, 1100, p.scale)
		data, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
		if err != nil {
			t.Fatal(err)
		}
		golden := filepath.Join("testdata", p.name+".png")
		if *update {
			if err := os.WriteFile(golden, data, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if share := unlike(t, data, want); share > 0.03 {
			out := filepath.Join(t.ArtifactDir(), p.name+".png")
			_ = os.WriteFile(out, data, 0o644)
			t.Errorf("%s: %.1f %% of the picture differ from %s; it now looks like %s", p.path, 100*share, golden, out)
		}
	}
}

// liberation tells whether the letters are there that the pictures were taken with.
const liberation = `(w=>w('"Liberation Sans",monospace')!=w('monospace'))(f=>{const c=document.createElement('canvas').getContext('2d');c.font='40px '+f;return c.measureText('Wim').width})`

// unlike is the share of the pixels whose brightness differs by more than a quarter.
func unlike(t *testing.T, a, b []byte) float64 {
	t.Helper()
	decode := func(data []byte) image.Image {
		m, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	x, y := decode(a), decode(b)
	if x.Bounds() != y.Bounds() {
		return 1
	}
	n, r := 0, x.Bounds()
	for j := r.Min.Y; j < r.Max.Y; j++ {
		for i := r.Min.X; i < r.Max.X; i++ {
			r1, g1, b1, _ := x.At(i, j).RGBA()
			r2, g2, b2, _ := y.At(i, j).RGBA()
			if d := int(r1+g1+b1) - int(r2+g2+b2); d > 3*0x4000 || d < -3*0x4000 {
				n++
			}
		}
	}
	return float64(n) / float64(r.Dx()*r.Dy())
}
