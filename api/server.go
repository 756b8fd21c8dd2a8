package api

import (
	"log/slog"
	"net/http"
	"time"
)

// Server returns an HTTP server for the service, with limits on how slowly a
// client may send and take. Give it a listener.
func Server(h http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       2 * time.Minute,
		WriteTimeout:      15 * time.Minute, // a workbook over a slow line
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelWarn),
	}
}
