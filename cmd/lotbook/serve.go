package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"path/filepath"
	"time"

	"lotbook/api"
	"lotbook/api/auth"
	"lotbook/api/web"
	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/reports/xlsx"
)

// defaultListen is loopback: nobody else reaches it unless told otherwise.
const defaultListen = "127.0.0.1:8417"

// defaultJoin is how long after one code of a pack another is taken for the same
// pack's. Common practice, no source.
const defaultJoin = 2 * time.Minute

// runServe serves a unit's book.
func runServe(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("serve")
	data := f.String("data", "", "")
	listen := f.String("listen", defaultListen, "")
	join := f.Duration("join-within", defaultJoin, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	switch {
	case f.NArg() != 0:
		return exitUsage, wrongUsage("it takes no further arguments")
	case *join < 0:
		return exitUsage, wrongUsage("--join-within is a time such as 90s or 2m; 0 means without limit")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{MustExist: true, Rebuilding: rebuildLog(serviceLog(e))})
	if err != nil {
		return exitError, err
	}
	l, err := listenOn(*listen)
	if err != nil {
		return exitError, errors.Join(err, h.store.Close())
	}
	return exitOK, h.serve(ctx, e, *data, l, serving{join: *join})
}

func serviceLog(e *env) *slog.Logger { return slog.New(slog.NewTextHandler(e.stderr, nil)) }

// listenOn opens the address, before anything else is done for it.
func listenOn(addr string) (net.Listener, error) {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, inventory.Conflict("address", "Stop what listens there, or give another address with --listen.", "can't listen on %s: %v", addr, err)
	}
	return l, nil
}

// serving says how a book is served.
type serving struct {
	// invented says on every page that the unit is.
	invented bool
	// join is how long the codes of one pack may be apart, 0 for any time.
	join time.Duration
}

// serve answers requests until ctx ends, then lets those under way finish and
// closes the store.
func (h *house) serve(ctx context.Context, e *env, dir string, l net.Listener, how serving) (err error) {
	defer func() { _ = l.Close(); err = errors.Join(err, h.store.Close()) }()
	log := serviceLog(e)
	temp := filepath.Join(dir, "tmp")
	if _, err := xlsx.Sweep(temp); err != nil {
		log.WarnContext(ctx, "temporary files of an earlier run could not be removed", "error", err)
	}
	handler, err := api.New(api.Deps{
		Book: h.book, Accounts: h.accounts, Log: log, Version: version(), TempDir: temp, Auth: auth.Settings{},
		Pages: func(a *auth.Auth) (api.Pages, error) {
			return web.New(web.Deps{Book: h.book, Auth: a, TempDir: temp, Version: version(), Demo: how.invented, JoinWithin: how.join, Log: log})
		},
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(e.stdout, "lotbook %s serves %s at http://%s/\nStop it with Ctrl-C.\n", version(), dir, l.Addr())
	if tcp, ok := l.Addr().(*net.TCPAddr); ok && !tcp.IP.IsLoopback() {
		fmt.Fprintln(e.stdout, "Others can reach this address. Put it behind a proxy that speaks TLS: passwords and patients' names travel over it.")
	}
	closeControl, err := h.control(dir, log)
	if err != nil {
		log.WarnContext(ctx, "no backup can be taken while the service runs", "error", err)
		closeControl = func(context.Context) {}
	}
	srv := api.Server(handler, log)
	go h.sweep(ctx, log)
	done := make(chan error, 1)
	go func() { done <- srv.Serve(l) }()
	var failed error
	select {
	case failed = <-done:
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), 20*time.Second)
	defer cancel()
	defer closeControl(stop)
	if failed != nil {
		return failed
	}
	if err := srv.Shutdown(stop); err != nil {
		return err
	}
	if err := <-done; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// sweep removes what ended sessions leave behind, now and then.
func (h *house) sweep(ctx context.Context, log *slog.Logger) {
	tick := time.NewTicker(time.Hour)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			if _, err := h.accounts.Sweep(ctx); err != nil && ctx.Err() == nil {
				log.WarnContext(ctx, "ended sessions could not be removed", "error", err)
			}
		}
	}
}
