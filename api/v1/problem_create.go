package v1

import (
	"context"
	"crypto/sha256"
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/api/problem"
	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/scanner/picture"
	"lotbook/trace"
)

type problemRequest struct {
	happened
	problemFacts
}

type problemWritten struct {
	written
	Problem string       `json:"problem"`
	Said    problemFacts `json:"said"`
}

// mayName says whether the user may name a treatment: a stock clerk reports what
// the stock has, and treatments are patients'.
func mayName(ctx context.Context, f *problemFacts, pattern string) error {
	id, ok := auth.FromContext(ctx)
	if ok && id.Role == account.Stock && (f.Treatment != "" || f.Use != 0) {
		return &auth.Denied{Method: "POST", Pattern: pattern, Role: id.Role, Allowed: []account.Role{account.Nurse, account.Quality}}
	}
	return nil
}

// facts returns what a request says, with what the code in it says.
func (a *API) facts(ctx context.Context, f *problemFacts) (trace.ProblemFacts, error) {
	out := f.domain()
	lines := linesOf(out.Code)
	if len(lines) == 0 || len(lines) > maxLines {
		return out, nil
	}
	codes, err := a.readLines(ctx, lines, "", true)
	reading.Item(codes, &out)
	return out, err
}

// createProblem answers POST /v1/problems.
func (a *API) createProblem(c *gin.Context) error {
	var req problemRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	if err := mayName(ctx, &req.problemFacts, "/v1/problems"); err != nil {
		return err
	}
	facts, err := a.facts(ctx, &req.problemFacts)
	if err != nil {
		return err
	}
	rec, err := a.Book.ReportProblem(ctx, call, facts)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.ProblemReported](evs)
		if err != nil {
			return nil, err
		}
		return problemWritten{w, string(ev.Problem), problemFactsOf(&ev.ProblemFacts)}, nil
	})
}

// createFollowUp answers POST /v1/problems/:id/follow-ups.
func (a *API) createFollowUp(c *gin.Context) error {
	var req problemRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	if err := mayName(ctx, &req.problemFacts, "/v1/problems/:id/follow-ups"); err != nil {
		return err
	}
	facts, err := a.facts(ctx, &req.problemFacts)
	if err != nil {
		return err
	}
	rec, err := a.Book.FollowProblem(ctx, call, trace.FollowUp{Problem: trace.ProblemID(id), ProblemFacts: facts})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.ProblemFollowed](evs)
		if err != nil {
			return nil, err
		}
		return problemWritten{w, string(ev.Problem), problemFactsOf(&ev.ProblemFacts)}, nil
	})
}

// pictureAbout comes with a picture.
type pictureAbout struct {
	happened
	About string `json:"about"`
}

type pictureWritten struct {
	written
	Problem string         `json:"problem"`
	Picture problemPicture `json:"picture"`
}

// createProblemPicture answers POST /v1/problems/:id/pictures: one picture,
// alone or in a form with what it shows.
func (a *API) createProblemPicture(c *gin.Context) error {
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	var about pictureAbout
	t, _ := mediaType(c)
	if t == jsonType {
		return wrongType(pictureTypes)
	}
	pics, err := bodyOf(c, "about", &about)
	if err != nil {
		return err
	}
	if len(pics) > 1 {
		return problem.Bad("repeated_parameter", "picture", "Send each picture by itself, with a key of its own.", "There are %d pictures.", len(pics))
	}
	call, err := callOf(c, about.At)
	if err != nil {
		return err
	}
	kept, err := a.keep(c.Request.Context(), pics[0])
	if err != nil {
		return err
	}
	rec, err := a.Book.PictureProblem(c.Request.Context(), call, trace.Picturing{
		Problem: trace.ProblemID(id), About: about.About, Sum: sha256.Sum256(pics[0]), JPEG: kept.JPEG, Width: kept.Width, Height: kept.Height,
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.ProblemPictured](evs)
		if err != nil {
			return nil, err
		}
		return pictureWritten{w, string(ev.Problem), problemPicture{
			Entry: w.Entry, At: w.Happened, By: w.By, About: ev.About, Width: ev.Width, Height: ev.Height, Bytes: len(ev.JPEG),
		}}, nil
	})
}

// keep redraws a picture for the record, when there is room for it among those
// that are read.
func (a *API) keep(ctx context.Context, pic []byte) (*picture.Kept, error) {
	select {
	case a.pictures <- struct{}{}:
		defer func() { <-a.pictures }()
	case <-ctx.Done():
		return nil, problem.Busy("Other pictures are being read.")
	}
	kept, f, err := reading.Keep(ctx, pic, picture.Options{MaxPixels: a.PicturePixels}, trace.MostPictureBytes)
	if f != nil {
		return nil, &problem.Request{Status: http.StatusUnprocessableEntity, Code: f.Code, Field: "picture", Message: f.Message, Hint: "Send a whole PNG, JPEG or WebP picture, not too large."}
	}
	return kept, err
}
