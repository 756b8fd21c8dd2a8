package main

import (
	"bytes"
	"context"
	"strings"
	"testing"
)

// Two pictures of one pack, each under glare: neither is read alone, both together
// are (testdata/README.md).
func TestReadOnePack(t *testing.T) {
	one, two := "testdata/glare-1.jpg", "testdata/glare-2.jpg"
	for _, tc := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{one}, exitError, `"source":"testdata/glare-1.jpg","error":{"code":"no_symbol"`},
		{[]string{two}, exitError, `"source":"testdata/glare-2.jpg","error":{"code":"no_symbol"`},
		{[]string{one, two}, exitError, `"source":"testdata/glare-2.jpg","error":{"code":"no_symbol"`},
		{[]string{"--one-pack", one, two}, exitOK, `"gtin":"09521234543213","lot":"A7F42","serial":"00417","expires":"2028-05-31"`},
		{[]string{"--one-pack", one, "testdata/README.md"}, exitError, `"source":"testdata/README.md","error":{"code":"picture"`},
		{[]string{"--one-pack", one, "testdata/nothere.jpg"}, exitError, `"source":"testdata/nothere.jpg","error":{"code":"no_file"`},
		{[]string{"--one-pack", one, one, one, one, one, one, one, one, one}, exitError, `9 pictures given, from 1 to 8 can be read together`},
	} {
		var out, said bytes.Buffer
		code := run(context.Background(), &env{stdout: &out, stderr: &said, now: scriptTime}, append([]string{"read"}, tc.args...))
		if code != tc.code || !strings.Contains(out.String(), tc.want) {
			t.Errorf("read %q exits with %d and says %s %s; want %d and %s", tc.args, code, &out, &said, tc.code, tc.want)
		}
	}
}
