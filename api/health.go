package api

import (
	"encoding/json"
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
)

// health says whether the book can be read. Anybody may ask, so it tells
// nothing of what is in it.
func (s *service) health(c *gin.Context) {
	err := s.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		if h := r.Head(); h.Seq > 0 {
			_, err := r.Entry(h.Seq)
			return err
		}
		return nil
	})
	if err != nil {
		s.fail(c, fmt.Errorf("health: %w", err))
		return
	}
	body, err := json.Marshal(struct {
		Status  string `json:"status"`
		Version string `json:"version"`
	}{"ok", s.Version})
	if err != nil {
		s.fail(c, err)
		return
	}
	c.Header("Cache-Control", "no-store")
	c.Data(http.StatusOK, "application/json", append(body, '\n'))
}
