package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"syscall"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/journal"
)

// While a service has a book open nobody else can. It listens on a socket in
// the book's folder for what has to be done meanwhile. Whoever may enter that
// folder has the book itself, patients included, so the socket asks for no
// name. It is no part of the API: no role of it may have all of a book.
const (
	controlDir  = "control" // mode 0700
	controlFile = "socket"
	backupPath  = "/backup"
	headTrailer = "Lotbook-Head"
	sizeTrailer = "Lotbook-Bytes"
)

// stalled is after how long a copy ends that nobody reads on: while it lasts,
// room in the book's file can't be used again.
const stalled = time.Minute

func controlSocket(dir string) string { return filepath.Join(dir, controlDir, controlFile) }

// control listens on the folder's socket. What stop does ends when its context
// ends at the latest.
func (h *house) control(dir string, log *slog.Logger) (stop func(context.Context), err error) {
	own := filepath.Join(dir, controlDir)
	if err := os.MkdirAll(own, 0o700); err != nil {
		return nil, err
	}
	if err := os.Chmod(own, 0o700); err != nil {
		return nil, err
	}
	path := controlSocket(dir)
	// This process holds the book's lock: a socket that is there was left
	// behind by one that was killed.
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	l, err := net.Listen("unix", path)
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+backupPath, h.serveBackup(log))
	srv := &http.Server{Handler: mux, ReadHeaderTimeout: 10 * time.Second, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
	go func() { _ = srv.Serve(l) }()
	return func(ctx context.Context) { _ = errors.Join(srv.Shutdown(ctx), srv.Close()) }, nil
}

// serveBackup answers with a copy of the book, and with its head and size behind
// it: without them the copy is not whole.
func (h *house) serveBackup(log *slog.Logger) http.HandlerFunc {
	var one sync.Mutex
	return func(w http.ResponseWriter, r *http.Request) {
		if !one.TryLock() {
			http.Error(w, "another backup is being written", http.StatusServiceUnavailable)
			return
		}
		defer one.Unlock()
		w.Header().Set("Content-Type", "application/octet-stream")
		w.Header().Set("Trailer", headTrailer+", "+sizeTrailer)
		copied, err := h.store.Backup(r.Context(), &steady{w, http.NewResponseController(w)})
		if err != nil {
			log.ErrorContext(r.Context(), "a backup was broken off", "error", err)
			panic(http.ErrAbortHandler)
		}
		w.Header().Set(headTrailer, headText(copied.Head))
		w.Header().Set(sizeTrailer, strconv.FormatInt(copied.Bytes, 10))
		log.InfoContext(r.Context(), "a backup was written", "bytes", copied.Bytes, "entries", copied.Head.Seq)
	}
}

// A steady writer fails when nothing is read from it for a while.
type steady struct {
	w    io.Writer
	conn *http.ResponseController
}

func (s *steady) Write(b []byte) (int, error) {
	if err := s.conn.SetWriteDeadline(time.Now().Add(stalled)); err != nil {
		return 0, err
	}
	return s.w.Write(b)
}

func headText(h journal.Head) string { return fmt.Sprintf("%d:%s", h.Seq, h.Hash) }

// errNoService says that no service has a folder's book open.
var errNoService = errors.New("no service listens there")

// backupFromService has the service that has a book open write a copy of it to
// w, and returns the copy's head. Without one the error is errNoService.
func backupFromService(ctx context.Context, dir string, w io.Writer) (head string, n int64, err error) {
	client := http.Client{Transport: &http.Transport{
		DisableCompression: true,
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			return new(net.Dialer).DialContext(ctx, "unix", controlSocket(dir))
		},
	}}
	defer client.CloseIdleConnections()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+controlDir+backupPath, nil)
	if err != nil {
		return "", 0, err
	}
	res, err := client.Do(req)
	switch {
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ECONNREFUSED), errors.Is(err, syscall.EINVAL): // the last: the path is too long for a socket
		return "", 0, errNoService
	case err != nil:
		return "", 0, fmt.Errorf("asking the service for a copy: %w", err)
	}
	defer res.Body.Close()
	if res.StatusCode == http.StatusServiceUnavailable {
		return "", 0, inventory.Conflict("backup_running", "Wait for it to end.", "another backup of this book is being written")
	}
	if res.StatusCode != http.StatusOK {
		return "", 0, fmt.Errorf("the service answered with %s", res.Status)
	}
	n, err = io.Copy(w, res.Body)
	if err != nil {
		return "", n, fmt.Errorf("the service broke the copy off: %w", err)
	}
	if head = res.Trailer.Get(headTrailer); head == "" || res.Trailer.Get(sizeTrailer) != strconv.FormatInt(n, 10) {
		return "", n, errors.New("the copy that the service sent is not whole")
	}
	return head, n, nil
}

// backupFromStore does the same for a book that no service has open.
func backupFromStore(ctx context.Context, e *env, dir string, w io.Writer) (head string, n int64, err error) {
	h, err := openHouse(ctx, e, dir, boltstore.Options{ReadOnly: true})
	if err != nil {
		return "", 0, err
	}
	defer func() { err = errors.Join(err, h.store.Close()) }()
	copied, err := h.store.Backup(ctx, w)
	return headText(copied.Head), copied.Bytes, err
}
