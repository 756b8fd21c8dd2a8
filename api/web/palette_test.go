package web

import (
	"math"
	"regexp"
	"strconv"
	"testing"
)

// The pairs of colours that meet in the pages. Ratios as WCAG 2.2 wants them at
// level AA: 4.5 for text (1.4.3), 3 for the borders of controls, signs and the
// focus (1.4.11, 2.4.13).
var pairs = []struct {
	on, of string
	want   float64
}{
	{"paper", "ink", 4.5},
	{"card", "ink", 4.5},
	{"sunk", "ink", 4.5},
	{"sun", "ink", 4.5},
	{"paper", "ink-2", 4.5},
	{"card", "ink-2", 4.5},
	{"sunk", "ink-2", 4.5},
	{"stop-2", "ink", 4.5},
	{"caution-2", "ink", 4.5},
	{"ok-2", "ink", 4.5},
	{"said-2", "ink", 4.5},
	{"stop-2", "ink-2", 4.5},
	{"caution-2", "ink-2", 4.5},
	{"ok-2", "ink-2", 4.5},
	{"said-2", "ink-2", 4.5},
	{"bar", "bar-ink", 4.5},
	{"bar-2", "bar-ink", 4.5},
	{"bar", "sun", 4.5},
	{"bar", "ok-2", 3},
	{"accent", "on-accent", 4.5},
	{"accent-2", "on-accent", 4.5},
	{"paper", "accent", 4.5},
	{"card", "accent", 4.5},
	{"stop-2", "accent", 4.5},
	{"sunk", "accent", 4.5},
	{"stop-2", "stop", 4.5},
	{"card", "stop", 4.5},
	{"paper", "stop", 4.5},
	{"caution-2", "caution", 4.5},
	{"card", "caution", 4.5},
	{"paper", "caution", 4.5},
	{"ok-2", "ok", 4.5},
	{"card", "ok", 4.5},
	{"paper", "ok", 4.5},
	{"said-2", "said", 4.5},
	{"card", "said", 4.5},
	{"paper", "said", 4.5},
	{"ink", "paper", 4.5},
	{"card", "edge", 3},
	{"paper", "edge", 3},
	{"stop-2", "edge", 3},
	{"caution-2", "edge", 3},
	{"ok-2", "edge", 3},
	{"said-2", "edge", 3},
	{"card", "focus", 3},
	{"paper", "focus", 3},
	{"stop-2", "focus", 3},
	{"caution-2", "focus", 3},
	{"ok-2", "focus", 3},
}

var colour = regexp.MustCompile(`--([a-z0-9-]+): (#[0-9a-f]{6});`)

func TestContrast(t *testing.T) {
	css, err := assetFiles.ReadFile("assets/app.css")
	if err != nil {
		t.Fatal(err)
	}
	palette := map[string]string{}
	for _, m := range colour.FindAllStringSubmatch(string(css), -1) {
		palette[m[1]] = m[2]
	}
	for _, p := range pairs {
		a, b := palette[p.on], palette[p.of]
		if a == "" || b == "" {
			t.Errorf("no colour %s or %s", p.on, p.of)
			continue
		}
		if got := contrast(t, a, b); got < p.want {
			t.Errorf("%s %s on %s %s: contrast %.2f, want %.1f", p.of, b, p.on, a, got, p.want)
		}
	}
}

// The extremes that WCAG 2.2 names under "contrast ratio": 21 and 1.
func TestContrastOfExtremes(t *testing.T) {
	if got := contrast(t, "#000000", "#ffffff"); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white: %v", got)
	}
	if got := contrast(t, "#336699", "#336699"); got != 1 {
		t.Errorf("a colour on itself: %v", got)
	}
}

// contrast is the ratio of WCAG 2.2, "contrast ratio" and "relative luminance".
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	x, y := luminance(t, a), luminance(t, b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

func luminance(t *testing.T, s string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(s[1:], 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	part := func(shift int) float64 {
		c := float64(n>>shift&0xff) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*part(16) + 0.7152*part(8) + 0.0722*part(0)
}
