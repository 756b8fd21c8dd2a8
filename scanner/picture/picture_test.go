package picture

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/png"
	"strings"
	"testing"
)

func TestRefusesWhatIsNoPicture(t *testing.T) {
	var small bytes.Buffer
	if err := png.Encode(&small, image.NewGray(image.Rect(0, 0, 40, 30))); err != nil {
		t.Fatal(err)
	}
	for name, tc := range map[string]struct {
		in   string
		max  int
		want error
	}{
		"empty":          {"", 0, ErrFormat},
		"text":           {"a line of text, no picture", 0, ErrFormat},
		"PNG header":     {small.String()[:12], 0, ErrDamaged},
		"PNG cut short":  {small.String()[:45], 0, ErrDamaged},
		"too many":       {small.String(), 1199, ErrTooLarge},
		"JPEG of nought": {"\xff\xd8\xff", 0, ErrDamaged},
		"JPEG cut short": {"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01", 0, ErrDamaged},
	} {
		_, err := Decode(context.Background(), strings.NewReader(tc.in), Options{MaxPixels: tc.max})
		if !errors.Is(err, tc.want) {
			t.Errorf("%s: error %v, want %v", name, err, tc.want)
		}
	}
	syms, err := Decode(context.Background(), &small, Options{})
	if err != nil || syms == nil || len(syms) != 0 {
		t.Errorf("black picture: %v, %v; want an empty slice and no error", syms, err)
	}
}
