package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"lotbook/scanner"
	"lotbook/scanner/picture"
	"lotbook/scanner/wedge"
)

// longestLine is how long a line of a text file may be; the reader's own
// bound is far below.
const longestLine = 1 << 20

// runRead prints what codes say. It exits with 1 if any could not be read.
func runRead(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("read")
	profile := f.String("profile", "", "")
	onePack := f.Bool("one-pack", false, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	p, err := profileFrom(*profile)
	if err != nil {
		return exitUsage, err
	}
	names := f.Args()
	if len(names) == 0 {
		names = []string{"-"}
	}
	out := bufio.NewWriter(e.stdout)
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	code := exitOK
	print := func(c scanner.Code) error {
		if c.Error != nil {
			code = exitError
		}
		return enc.Encode(c)
	}
	if *onePack {
		err := readFrames(ctx, e, names, p, print)
		return code, errors.Join(err, out.Flush())
	}
	for _, name := range names {
		if err := readSource(ctx, e, name, p, print); err != nil {
			return exitError, errors.Join(err, out.Flush())
		}
	}
	return code, out.Flush()
}

func readSource(ctx context.Context, e *env, name string, p wedge.Profile, print func(scanner.Code) error) error {
	opts := scanner.Options{Now: e.now(), Source: name, Profile: p}
	var in io.Reader = e.stdin
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return print(failed(name, "no_file", err.Error()))
		}
		defer f.Close()
		in = f
	}
	r := bufio.NewReaderSize(in, 4096)
	head, err := r.Peek(12)
	if err != nil && !errors.Is(err, io.EOF) {
		return print(failed(name, "no_file", err.Error()))
	}
	if isPicture(head) {
		return readPicture(ctx, r, opts, print)
	}
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, longestLine)
	var codes []scanner.Code
	for lines.Scan() {
		codes = scanner.AppendRead(codes[:0], lines.Text(), opts)
		for _, c := range codes {
			if err := print(c); err != nil {
				return err
			}
		}
	}
	if err := lines.Err(); err != nil {
		return print(failed(name, "not_text", "This is neither a picture (PNG, JPEG, WebP) nor lines of text: "+err.Error()))
	}
	return nil
}

// readFrames reads pictures of one pack together. Each code's source is the
// picture that shows it, or shows the most of it.
func readFrames(ctx context.Context, e *env, names []string, p wedge.Profile, print func(scanner.Code) error) error {
	var pictures []io.Reader
	var from []string
	for _, name := range names {
		in := e.stdin
		if name != "-" {
			f, err := os.Open(name)
			if err != nil {
				if err := print(failed(name, "no_file", err.Error())); err != nil {
					return err
				}
				continue
			}
			defer f.Close()
			in = f
		}
		pictures, from = append(pictures, in), append(from, name)
	}
	if len(pictures) == 0 {
		return nil
	}
	symbols, err := picture.DecodeFrames(ctx, pictures, picture.Options{Deadline: picture.DefaultDeadline * time.Duration(len(pictures))})
	for _, s := range symbols {
		opts := scanner.Options{Now: e.now(), Source: from[s.Frame], Profile: p}
		if err := print(scanner.FromSymbol(s.Symbology, s.Text, opts)); err != nil {
			return err
		}
	}
	source := strings.Join(from, ", ")
	if bad := (*picture.FrameError)(nil); errors.As(err, &bad) {
		source = from[bad.Frame]
	}
	switch {
	case err != nil:
		return print(failed(source, "picture", fmt.Sprintf("The picture could not be read: %v.", err)))
	case len(symbols) == 0:
		return print(failed(source, "no_symbol", noSymbol))
	}
	return nil
}

const noSymbol = "No code was found in the picture. Go nearer, hold still, avoid glare, and take the whole code with the white around it."

func readPicture(ctx context.Context, r io.Reader, opts scanner.Options, print func(scanner.Code) error) error {
	symbols, err := picture.Decode(ctx, r, picture.Options{})
	for _, s := range symbols {
		if err := print(scanner.FromSymbol(s.Symbology, s.Text, opts)); err != nil {
			return err
		}
	}
	switch {
	case err != nil:
		return print(failed(opts.Source, "picture", fmt.Sprintf("The picture could not be read: %v.", err)))
	case len(symbols) == 0:
		return print(failed(opts.Source, "no_symbol", noSymbol))
	}
	return nil
}

func failed(source, code, message string) scanner.Code {
	return scanner.Code{Source: source, Error: &scanner.Fault{Code: code, Message: message}}
}

// isPicture reports whether a file begins as a PNG, a JPEG or a WebP does.
func isPicture(head []byte) bool {
	return bytes.HasPrefix(head, []byte("\x89PNG\r\n\x1a\n")) || bytes.HasPrefix(head, []byte("\xff\xd8\xff")) ||
		(len(head) >= 12 && string(head[:4]) == "RIFF" && string(head[8:12]) == "WEBP")
}
