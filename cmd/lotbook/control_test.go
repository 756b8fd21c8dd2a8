package main

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lotbook/inventory/boltstore"
)

// A copy that does not come whole is an error, and leaves no file behind.
func TestBackupIsWholeOrNone(t *testing.T) {
	for name, answer := range map[string]http.HandlerFunc{
		"broken off": func(w http.ResponseWriter, _ *http.Request) {
			_, _ = w.Write(make([]byte, 1<<20))
			panic(http.ErrAbortHandler)
		},
		"without a head": func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write(make([]byte, 1<<20)) },
		"too short": func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Trailer", headTrailer+", "+sizeTrailer)
			_, _ = w.Write(make([]byte, 1<<20))
			w.Header().Set(headTrailer, "7:0")
			w.Header().Set(sizeTrailer, "7")
		},
		"another is running": func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusServiceUnavailable) },
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			if err := os.Mkdir(filepath.Join(dir, controlDir), 0o700); err != nil {
				t.Fatal(err)
			}
			l, err := net.Listen("unix", controlSocket(dir))
			if err != nil {
				t.Fatal(err)
			}
			srv := &http.Server{Handler: answer, ErrorLog: slog.NewLogLogger(slog.DiscardHandler, 0)}
			go func() { _ = srv.Serve(l) }()
			defer srv.Close()
			var out, wrong bytes.Buffer
			file := filepath.Join(dir, "copy.db")
			code := run(context.Background(), &env{stdout: &out, stderr: &wrong, now: scriptTime, getenv: os.Getenv}, []string{"backup", "--data", dir, file})
			if _, err := os.Lstat(file); code != exitError || err == nil || wrong.Len() == 0 {
				t.Errorf("exit %d, file %v, said %q", code, err, wrong.String())
			}
		})
	}
}

// Nobody but the folder's owner reaches the socket, and what it gives is nothing
// but the copy.
func TestControlIsClosedToOthers(t *testing.T) {
	dir := t.TempDir()
	h, err := openHouse(t.Context(), &env{now: scriptTime, stderr: io.Discard}, dir, boltstore.Options{NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	defer h.store.Close()
	stop, err := h.control(dir, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer stop(context.Background())
	info, err := os.Stat(filepath.Join(dir, controlDir))
	if err != nil || info.Mode().Perm() != 0o700 {
		t.Fatalf("%v, %v", info.Mode(), err)
	}
	client := http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return new(net.Dialer).DialContext(ctx, "unix", controlSocket(dir))
	}}}
	defer client.CloseIdleConnections()
	for _, req := range []string{"GET /", "GET /v1/head", "POST /backup"} {
		method, path, _ := strings.Cut(req, " ")
		r, err := http.NewRequest(method, "http://control"+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		res, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		body, _ := io.ReadAll(res.Body)
		if _ = res.Body.Close(); res.StatusCode < 400 {
			t.Errorf("%s: %d %q", req, res.StatusCode, body)
		}
	}
}
