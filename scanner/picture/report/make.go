package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"golang.org/x/image/webp"

	"lotbook/scanner/picture/internal/camera"
)

// A want is one symbol that a picture holds; Symbology is empty where only the
// text is known.
type want struct{ Kind, Symbology, Text string }

// A shot is one picture of a corpus and what it holds.
type shot struct {
	File   string
	Corpus string // singles, scenes, large, photos, nothing
	How    string
	Want   []want
	AsPNG  string // the same picture for a reader that doesn't know its format, or ""
}

type corpora struct {
	dir, npm string
	seed     uint64
	kinds    []string
	Pictures []shot
}

// make writes all pictures below c.dir.
func (c *corpora) make(singles, scenes, large int, photos string) error {
	r := rand.New(rand.NewPCG(c.seed, 0x70696374))
	for _, d := range []string{"art", "singles", "scenes", "large", "photos"} {
		if err := os.MkdirAll(filepath.Join(c.dir, d), 0o755); err != nil {
			return err
		}
	}
	labels := make([]label, singles+3*(scenes+large))
	for i := range labels {
		labels[i] = newLabel(r, fmt.Sprintf("%04d", i), c.kinds)
	}
	art, err := c.encode(labels)
	if err != nil {
		return err
	}
	for i := range singles {
		how := spoilings[i%len(spoilings)]
		s, q := single(r, art[i], how)
		if err := c.add("singles", how, i, s, q, labels[i]); err != nil {
			return err
		}
	}
	labels, art = labels[singles:], art[singles:]
	for i := range scenes + large {
		n := 1 + r.IntN(3)
		w, h, name := 1600, 1200, "scenes"
		if i >= scenes {
			w, h, name = 4000, 3000, "large"
		}
		s, placed := scene(r, w, h, art[3*i:3*i+n])
		var ls []label
		for _, p := range placed {
			ls = append(ls, labels[3*i+p])
		}
		if err := c.add(name, name, i, s, 60+r.IntN(35), ls...); err != nil {
			return err
		}
	}
	if photos != "" {
		return c.addPhotos(photos)
	}
	return nil
}

// encode has the independent encoder draw the labels.
func (c *corpora) encode(labels []label) ([]image.Image, error) {
	var specs bytes.Buffer
	e := json.NewEncoder(&specs)
	for _, l := range labels {
		if err := e.Encode(l); err != nil {
			return nil, err
		}
	}
	list := filepath.Join(c.dir, "labels.jsonl")
	if err := os.WriteFile(list, specs.Bytes(), 0o644); err != nil {
		return nil, err
	}
	if err := c.node("encode.mjs", list, filepath.Join(c.dir, "art")); err != nil {
		return nil, err
	}
	art := make([]image.Image, len(labels))
	for i, l := range labels {
		b, err := os.ReadFile(filepath.Join(c.dir, "art", l.Name+".png"))
		if err != nil {
			return nil, err
		}
		if art[i], err = png.Decode(bytes.NewReader(b)); err != nil {
			return nil, err
		}
	}
	return art, nil
}

func (c *corpora) node(script string, args ...string) error {
	abs := []string{script}
	for _, a := range args {
		p, err := filepath.Abs(a)
		if err != nil {
			return err
		}
		abs = append(abs, p)
	}
	cmd := exec.Command("node", abs...)
	cmd.Dir, cmd.Stderr, cmd.Stdout = c.npm, os.Stderr, os.Stderr
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("node %s: %w", script, err)
	}
	return nil
}

func (c *corpora) add(corpus, how string, i int, s *camera.Scene, quality int, labels ...label) error {
	name := filepath.Join(corpus, fmt.Sprintf("%04d.png", i))
	var b []byte
	if quality > 0 {
		name = strings.TrimSuffix(name, "png") + "jpg"
		var err error
		if b, err = s.JPEG(quality); err != nil {
			return err
		}
	} else {
		var buf bytes.Buffer
		e := png.Encoder{CompressionLevel: png.BestSpeed}
		if err := e.Encode(&buf, s.Gray()); err != nil {
			return err
		}
		b = buf.Bytes()
	}
	sh := shot{File: filepath.Join(c.dir, name), Corpus: corpus, How: how}
	for _, l := range labels {
		sh.Want = append(sh.Want, want{l.Kind, l.Symbology, l.Text})
	}
	c.Pictures = append(c.Pictures, sh)
	return os.WriteFile(sh.File, b, 0o644)
}

// addPhotos takes pictures with NAME.txt beside them, and folders named
// falsepositives… whose pictures hold nothing.
func (c *corpora) addPhotos(dir string) error {
	var files []string
	for _, ext := range []string{"png", "jpg", "jpeg", "webp"} {
		more, err := filepath.Glob(filepath.Join(dir, "*", "*."+ext))
		if err != nil {
			return err
		}
		files = append(files, more...)
	}
	for _, f := range files {
		sh := shot{File: f, Corpus: "photos", How: filepath.Base(filepath.Dir(f))}
		text, err := os.ReadFile(strings.TrimSuffix(f, filepath.Ext(f)) + ".txt")
		switch {
		case strings.HasPrefix(sh.How, "falsepositives"):
			sh.Corpus = "nothing"
		case err != nil:
			continue
		default:
			sh.Want = []want{{Kind: sh.How, Text: string(text)}}
		}
		if filepath.Ext(f) == ".webp" {
			if sh.AsPNG, err = c.asPNG(f); err != nil {
				return err
			}
		}
		c.Pictures = append(c.Pictures, sh)
	}
	return nil
}

// asPNG copies a WebP picture as PNG, which the other reader knows.
func (c *corpora) asPNG(file string) (string, error) {
	f, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer f.Close()
	img, err := webp.Decode(f)
	if err != nil {
		return "", fmt.Errorf("%s: %w", file, err)
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, img); err != nil {
		return "", err
	}
	name := filepath.Join(c.dir, "photos", filepath.Base(filepath.Dir(file))+"_"+filepath.Base(file)+".png")
	return name, os.WriteFile(name, b.Bytes(), 0o644)
}
