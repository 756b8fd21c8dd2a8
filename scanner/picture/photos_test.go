package picture_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestReadsPhotos reads photographs and pictures of symbols that others made;
// testdata/README.md says where they come from. NAME.txt is what each says;
// the identifiers are by ISO/IEC 15424 and given here where the samples' own
// notes name them.
func TestReadsPhotos(t *testing.T) {
	symbology := map[string]string{
		"code128-1_1": "]C1", "code128-1_5": "]C1", "code128-1_6": "]C0",
		"datamatrix-1_gs1-figure-4.15.1-2-32x32": "]d2", "datamatrix-4_gs1-figure-4.15.1-2-44x20": "]d8",
	}
	texts, err := filepath.Glob(filepath.Join("testdata", "photos", "*.txt"))
	if err != nil || len(texts) < 16 {
		t.Fatalf("%d photos, error %v; want at least 16", len(texts), err)
	}
	for _, file := range texts {
		name := strings.TrimSuffix(filepath.Base(file), ".txt")
		t.Run(name, func(t *testing.T) {
			want := strings.TrimRight(readFile(t, file), "\r\n")
			got := decode(t, []byte(readFile(t, pictureBeside(t, file))))
			if len(got) != 1 {
				t.Fatalf("read %v, want one symbol saying %q", got, want)
			}
			if got[0].Text != want {
				t.Errorf("read %q, want %q", got[0].Text, want)
			}
			if id := symbology[name]; id != "" && got[0].Symbology != id {
				t.Errorf("identifier %s, want %s", got[0].Symbology, id)
			}
		})
	}
}

func TestReadsNothingWhereNothingIs(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("testdata", "nothing", "*.*"))
	if err != nil || len(files) < 5 {
		t.Fatalf("%d pictures, error %v; want at least 5", len(files), err)
	}
	for _, file := range files {
		if got := decode(t, []byte(readFile(t, file))); len(got) != 0 {
			t.Errorf("%s: read %v, want nothing", file, got)
		}
	}
}

// TestReadsNothingWrongInTraps: each of these was misread once, as a text that
// its symbol doesn't carry. Whether the right text is read is not asked.
func TestReadsNothingWrongInTraps(t *testing.T) {
	for name, want := range map[string]string{
		"ean13-one-pixel-modules": "9526661998773",
		"128-small":               "+A447G010C1A",
		"qr-turned":               "010950110153000310b7.F\x1d21x-9\x1d240REF7",
	} {
		for _, got := range decode(t, []byte(readFile(t, filepath.Join("testdata", "traps", name+".png")))) {
			if got.Text != want {
				t.Errorf("%s: read %s %q; it says %q", name, got.Symbology, got.Text, want)
			}
		}
	}
}

func readFile(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func pictureBeside(t *testing.T, text string) string {
	t.Helper()
	for _, ext := range []string{".png", ".webp", ".jpg"} {
		if p := strings.TrimSuffix(text, ".txt") + ext; fileExists(p) {
			return p
		}
	}
	t.Fatalf("no picture beside %s", text)
	return ""
}

func fileExists(name string) bool {
	_, err := os.Stat(name)
	return err == nil
}
