// Command report compares package picture with the C++ reader on corpora that
// it makes itself: symbols from an independent encoder, seen by the camera
// model of internal/camera.
//
//	make reader-report SEED=1 OUT=/tmp/reader-report PHOTOS=folder/of/photos
//
// It needs node and npm. It prints a table, and writes into the folder given by
// -out the table, the pictures, and index.html: what this package did not read.
// PHOTOS may be left out; its layout is FOLDER/KIND/NAME.png with NAME.txt, the
// text, beside it.
package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

func main() {
	if err := run(context.Background()); err != nil {
		fmt.Fprintln(os.Stderr, "report:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context) error {
	seed := flag.Uint64("seed", 1, "seed of the corpora")
	out := flag.String("out", filepath.Join(os.TempDir(), "reader-report"), "folder for the pictures")
	singles := flag.Int("singles", 480, "single symbols, one degradation each")
	scenes := flag.Int("scenes", 40, "package scenes of 1600x1200 with one to three symbols")
	large := flag.Int("large", 8, "package scenes of 4000x3000")
	photos := flag.String("photos", "", "folder of real photos (PNG or JPEG), each with NAME.txt beside it")
	npm := flag.String("npm", ".", "folder that holds node_modules, encode.mjs and read.mjs")
	reuse := flag.Bool("reuse", false, "take the pictures and the other reader's answers already in -out")
	kinds := flag.String("kinds", usualKinds, "kinds of symbols to draw from, as often as they are named")
	flag.Parse()
	c := corpora{dir: *out, npm: *npm, seed: *seed, kinds: strings.Split(*kinds, ",")}
	manifest := filepath.Join(*out, "manifest.json")
	if *reuse {
		b, err := os.ReadFile(manifest)
		if err != nil {
			return err
		}
		if err := json.Unmarshal(b, &c.Pictures); err != nil {
			return err
		}
	} else {
		if err := c.make(*singles, *scenes, *large, *photos); err != nil {
			return err
		}
		b, err := json.MarshalIndent(c.Pictures, "", " ")
		if err != nil {
			return err
		}
		if err := os.WriteFile(manifest, b, 0o644); err != nil {
			return err
		}
		if err := c.otherReader(); err != nil {
			return err
		}
	}
	theirs, err := c.answers()
	if err != nil {
		return err
	}
	ours, err := c.ourReader(ctx)
	if err != nil {
		return err
	}
	table, err := os.Create(filepath.Join(*out, "table.txt"))
	if err != nil {
		return err
	}
	defer table.Close()
	if err := c.report(io.MultiWriter(os.Stdout, table), ours, theirs); err != nil {
		return err
	}
	fmt.Println("what was not read:", filepath.Join(*out, "index.html"))
	return nil
}
