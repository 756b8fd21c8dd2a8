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
		return print(failed(opts.Source, "no_symbol", "No code was found in the picture. Go nearer, hold still, avoid glare, and take the whole code with the white around it."))
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
