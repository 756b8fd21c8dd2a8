package v1

import (
	"context"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/trace/notice"
)

// noticeRequest is a version of a notice.
type noticeRequest struct {
	happened
	noticeText
	// Another records a new notice although one has the same reference.
	Another bool `json:"another"`
}

// noticeWritten answers the write of a version.
type noticeWritten struct {
	written
	Notice string `json:"notice"`
	noticeText
}

// createNotice answers POST /v1/notices: the first version of a notice.
func (a *API) createNotice(c *gin.Context) error {
	var req noticeRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.notices().Write(c.Request.Context(), call, notice.Writing{Version: req.domain(), Another: req.Another})
	return a.created(c, rec, err, versionAnswer)
}

// createNoticeVersion answers POST /v1/notices/:id/versions.
func (a *API) createNoticeVersion(c *gin.Context) error {
	var req noticeRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	if req.Another {
		return problem.Bad("unknown_member", "another", "Leave it out, or write a new notice.", "A further version is no other notice.")
	}
	rec, err := a.notices().Write(c.Request.Context(), call, notice.Writing{Notice: notice.ID(id), Version: req.domain()})
	return a.created(c, rec, err, versionAnswer)
}

func versionAnswer(evs []inventory.Event, w written) (any, error) {
	ev, err := last[*notice.VersionWritten](evs)
	if err != nil {
		return nil, err
	}
	return noticeWritten{w, string(ev.Notice), noticeTextOf(&ev.Version)}, nil
}

// decision says of a lot that is in doubt whether it is meant.
type decision struct {
	Product string `json:"product"`
	Lot     string `json:"lot"`
	Meant   *bool  `json:"meant"`
	Reason  string `json:"reason"`
}

// createNoticeDecision answers POST /v1/notices/:id/decisions.
func (a *API) createNoticeDecision(c *gin.Context) error {
	var req struct {
		happened
		decision
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		if req.Meant == nil {
			return inventory.Receipt{}, problem.Bad("parameter_missing", "meant", "Send true or false.", "It is not said whether the lot is meant.")
		}
		return a.notices().Decide(ctx, call, notice.LotDecided{Notice: id, Product: inventory.ProductID(req.Product), Lot: req.Lot, Meant: *req.Meant, Reason: req.Reason})
	}, func(ev *notice.LotDecided) decision {
		return decision{string(ev.Product), ev.Lot, &ev.Meant, ev.Reason}
	})
}

// confirmation says that the scope is right, up to a version.
type confirmation struct {
	Version int `json:"version"`
}

// createNoticeConfirmation answers POST /v1/notices/:id/confirmations: what the
// notice means is on hold from then on.
func (a *API) createNoticeConfirmation(c *gin.Context) error {
	var req struct {
		happened
		confirmation
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		return a.notices().Confirm(ctx, call, notice.Confirming{Notice: id, Version: req.Version})
	}, func(ev *notice.ScopeConfirmed) confirmation { return confirmation{ev.Version} })
}

// noticeReleased ends the notice's hold: on lots, on a product, or on all.
type noticeReleased struct {
	Product string   `json:"product,omitempty"`
	Lots    []string `json:"lots,omitempty"`
	Reason  string   `json:"reason"`
}

// createNoticeRelease answers POST /v1/notices/:id/releases.
func (a *API) createNoticeRelease(c *gin.Context) error {
	var req struct {
		happened
		noticeReleased
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		return a.notices().ReleaseHold(ctx, call, notice.Releasing{Notice: id, Product: inventory.ProductID(req.Product), Lots: req.Lots, Reason: req.Reason})
	}, func(ev *notice.HoldReleased) noticeReleased {
		return noticeReleased{string(ev.Product), ev.Lots, ev.Reason}
	})
}
