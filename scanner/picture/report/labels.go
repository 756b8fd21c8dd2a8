package main

import (
	"fmt"
	"math/rand/v2"
	"strings"
)

// A label is one invented symbol: what the encoder is asked for, and what a
// reader must say.
type label struct {
	Name    string         `json:"name"`
	BCID    string         `json:"bcid"`
	Content string         `json:"text"`
	Options map[string]any `json:"options"`

	Kind      string `json:"-"`
	Symbology string `json:"-"`
	Text      string `json:"-"`
	Modules   int    `json:"-"` // across the longer side, roughly
}

const artScale = 4 // pixels a module of the encoder's pictures

// gtin returns 14 digits of the documentation prefix 0952 with a check digit.
func gtin(r *rand.Rand) string {
	d := fmt.Sprintf("%d952%09d", r.IntN(3), r.IntN(1e9))
	return d + check(d)
}

func check(d string) string {
	sum := 0
	for i := range len(d) {
		v := int(d[i] - '0')
		if (len(d)-i)%2 == 1 {
			v *= 3
		}
		sum += v
	}
	return string(rune('0' + (10-sum%10)%10))
}

func chars(r *rand.Rand, set string, lo, hi int) string {
	b := make([]byte, lo+r.IntN(hi-lo+1))
	for i := range b {
		b[i] = set[r.IntN(len(set))]
	}
	return string(b)
}

const upper = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"

// elements returns a UDI in brackets and as carried, short or long.
func elements(r *rand.Rand, long bool) (brackets, carried string) {
	g := gtin(r)
	exp := fmt.Sprintf("%02d%02d%02d", 26+r.IntN(6), 1+r.IntN(12), 1+r.IntN(28))
	lot := chars(r, upper, 4, 10)
	brackets, carried = "(01)"+g+"(17)"+exp+"(10)"+lot, "01"+g+"17"+exp+"10"+lot
	if long {
		serial := chars(r, upper, 5, 12)
		brackets += "(21)" + serial
		carried += "\x1d21" + serial
	}
	return brackets, carried
}

// usualKinds are weighted towards what packs carry.
const usualKinds = "dm,dm,dm,dm,dmrect,dmrect,dmre,128,128,128,128long,qr,qr," +
	"ean13,itf14,databar,hibc39,hibc128,hibcdm,databarlimited,databarexpanded,databarexpandedstacked"

// newLabel draws one label of one of the kinds.
func newLabel(r *rand.Rand, name string, kinds []string) label {
	l := label{Name: name, Options: map[string]any{"scale": artScale, "includetext": false}}
	l.Kind = kinds[r.IntN(len(kinds))]
	pad := func(n int) { l.Options["paddingwidth"], l.Options["paddingheight"] = n*artScale, n*artScale }
	matrix := func(bcid, id string, long bool) {
		l.BCID, l.Symbology = bcid, id
		l.Content, l.Text = elements(r, long)
		pad(2)
		l.Modules = 28
	}
	linear := func(bcid, id string, modules int) {
		l.BCID, l.Symbology, l.Modules = bcid, id, modules
		l.Options["paddingwidth"], l.Options["paddingheight"] = 10*artScale, 2*artScale
		l.Options["height"] = 8 + 10*r.Float64() // mm at 72 dpi
	}
	switch l.Kind {
	case "dm":
		matrix("gs1datamatrix", "]d2", r.IntN(2) == 0)
	case "dmrect":
		matrix("gs1datamatrixrectangular", "]d2", false)
		l.Modules = 52
	case "dmre":
		matrix("gs1datamatrixrectangular", "]d8", r.IntN(2) == 0)
		l.Options["dmre"] = true
		l.Options["version"] = []string{"8x80", "8x96", "12x64", "16x64", "20x44", "24x48", "26x40"}[r.IntN(7)]
		if strings.HasPrefix(l.Options["version"].(string), "8x") {
			l.Content, l.Text = elements(r, false)
		}
		l.Modules = 70
	case "qr":
		matrix("gs1qrcode", "]Q3", r.IntN(2) == 0)
		l.Options["eclevel"] = []string{"L", "M", "Q"}[r.IntN(3)]
		pad(4)
		l.Modules = 37
	case "128":
		linear("gs1-128", "]C1", 240)
		l.Content, l.Text = elements(r, false)
	case "128long":
		linear("gs1-128", "]C1", 380)
		l.Content, l.Text = elements(r, true)
	case "ean13":
		linear("ean13", "]E0", 115)
		d := fmt.Sprintf("952%09d", r.IntN(1e9))
		l.Content = d + check(d)
		l.Text = l.Content
	case "itf14":
		linear("interleaved2of5", "]I1", 150)
		l.Content = gtin(r)
		l.Text = l.Content
	case "databar", "databarlimited", "databarstacked":
		bcid := map[string]string{"databar": "databaromni"}[l.Kind]
		if bcid == "" {
			bcid = l.Kind
		}
		linear(bcid, "]e0", 110)
		delete(l.Options, "height")
		g := gtin(r)
		for l.Kind == "databarlimited" && g[0] > '1' {
			g = gtin(r)
		}
		l.Content, l.Text = "(01)"+g, "01"+g
	case "databarexpanded", "databarexpandedstacked":
		linear(l.Kind, "]e0", 300)
		delete(l.Options, "height")
		l.Content, l.Text = elements(r, r.IntN(2) == 0)
		if l.Kind == "databarexpandedstacked" {
			l.Options["segments"] = 2 + 2*r.IntN(3)
			l.Modules = 150
		}
	default:
		hibc(r, &l, linear, pad)
	}
	return l
}

// hibc makes a primary code of the health industry's own standard (ANSI/HIBC
// 2.6) in one of three symbologies; its check character is our own sum mod 43.
func hibc(r *rand.Rand, l *label, linear func(string, string, int), pad func(int)) {
	const set = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
	t := "+A" + fmt.Sprintf("%03d", r.IntN(1000)) + chars(r, "ABCDEFGH0123456789", 4, 8) + "1"
	sum := 0
	for _, c := range t {
		sum += strings.IndexRune(set, c)
	}
	t += string(set[sum%43])
	l.Content, l.Text = t, t
	switch l.Kind {
	case "hibc39":
		linear("code39", "]A0", 260)
	case "hibc128":
		linear("code128", "]C0", 200)
	default:
		l.BCID, l.Symbology, l.Modules = "datamatrix", "]d1", 22
		pad(2)
	}
}
