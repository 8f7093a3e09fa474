package pagetest

import (
	"bytes"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	pdf "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// Sheet is a size of paper, in inches.
type Sheet struct {
	Name          string
	Width, Height float64
}

// Sheets are the sizes that pages are printed on.
var Sheets = []Sheet{{"A4", 8.27, 11.69}, {"Letter", 8.5, 11}}

// Print prints the open page and returns on how many sheets, and by how many pixels it
// is wider than they are.
func (b *Tab) Print(t *testing.T, s Sheet) (sheets int, wider float64) {
	t.Helper()
	data := Call(t, b, pdf.PrintToPDF, pdf.PrintToPDFParams{PaperWidth: s.Width, PaperHeight: s.Height}).Data
	Call(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
	b.Window(t, int64(s.Width*96-91), 900, 1) // less the margins of 12 mm
	return len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(data, -1)), Evaluate[float64](t, b, Overflow)
}

// Look is a page that was looked at: a small picture of it is kept.
type Look struct {
	Name, Path, Scheme string
	Width              int64
	Scale              float64
	Script             string // run before the picture is taken
}

// Picture compares the page with its picture in testdata, with a tolerance; update
// writes it anew.
func (b *Tab) Picture(t *testing.T, p Look, update bool) {
	t.Helper()
	b.Visit(t, p.Path, p.Width, p.Scheme)
	if !Evaluate[bool](t, b, liberation) {
		LeftOut(t, "the letters of the golden pictures, Liberation Sans, are not installed; . .ci/browser installs them")
		return
	}
	if p.Script != "" {
		Evaluate[bool](t, b, p.Script+";true")
	}
	b.Window(t, p.Width, 1100, p.Scale)
	data, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		t.Fatal(err)
	}
	golden := filepath.Join("testdata", p.Name+".png")
	if update {
		if err := os.WriteFile(golden, data, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if share := unlike(t, data, want); share > 0.03 {
		out := filepath.Join(t.ArtifactDir(), p.Name+".png")
		_ = os.WriteFile(out, data, 0o644)
		t.Errorf("%s: %.1f %% of the picture differ from %s; it now looks like %s", p.Path, 100*share, golden, out)
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
