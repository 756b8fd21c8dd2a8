package v1

import (
	"bytes"
	"context"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/reports/letter"
	"lotbook/trace/notice"
)

// informed is somebody who was told of a notice.
type informed struct {
	Who string `json:"who"`
	How string `json:"how,omitempty"`
	On  string `json:"on,omitempty"`
}

// replyWords are a person's own part of a reply.
type replyWords struct {
	To           string     `json:"to,omitempty"`
	Sent         string     `json:"sent"`
	Site         string     `json:"site,omitempty"`
	Adverse      string     `json:"adverse_events"`
	AdverseWords string     `json:"adverse_events_text,omitempty"`
	Told         []informed `json:"told,omitempty"`
	Signer       string     `json:"signer"`
	Role         string     `json:"role"`
	Note         string     `json:"note,omitempty"`
}

func replyWordsOf(w *notice.ReplyWords) replyWords {
	out := replyWords{w.To, w.Sent, w.Site, string(w.Adverse), w.AdverseWords, nil, w.Signer, w.Role, w.Note}
	for _, t := range w.Told {
		out.Told = append(out.Told, informed{t.Who, t.How, string(t.On)})
	}
	return out
}

func (w *replyWords) domain() notice.ReplyWords {
	out := notice.ReplyWords{
		To: w.To, Sent: w.Sent, Site: w.Site, Adverse: notice.Adverse(w.Adverse), AdverseWords: w.AdverseWords, Signer: w.Signer, Role: w.Role, Note: w.Note,
	}
	for _, t := range w.Told {
		out.Told = append(out.Told, notice.Informed{Who: t.Who, How: t.How, On: inventory.Date(t.On)})
	}
	return out
}

// replyLine is a reply and who recorded it.
type replyLine struct {
	replied
	noted
}

func replyLineOf(r *notice.Reply, d notice.Done) replyLine {
	return replyLine{repliedOf(r), noted{d.Entry, d.By, d.At}}
}

// replying asks to keep the answer as the one that was given.
type replying struct {
	replyWords
	Version int `json:"version"`
	// Seen is the sum of the answer that the person saw.
	Seen string `json:"seen,omitempty"`
}

// replied is what was kept, without the answer.
type replied struct {
	Number  int    `json:"reply"`
	Version int    `json:"version"`
	Receipt string `json:"receipt"`
	AsOf    head   `json:"as_of"`
	replyWords
}

func repliedOf(r *notice.Reply) replied {
	return replied{r.Number, r.Version, string(r.Receipt), headOf(r.AsOf), replyWordsOf(&r.ReplyWords)}
}

// createNoticeReply answers POST /v1/notices/:id/replies.
func (a *API) createNoticeReply(c *gin.Context) error {
	var req struct {
		happened
		replying
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		if req.Version < 0 {
			return inventory.Receipt{}, problem.Bad("wrong_type", "version", "Give a version's number, or leave it out for the last one.", "There is no version %d.", req.Version)
		}
		return a.notices().Reply(ctx, call, notice.Replying{Notice: id, Version: req.Version, ReplyWords: req.domain(), Seen: req.Seen})
	}, func(ev *notice.Replied) replied { return repliedOf(&ev.Reply) })
}

// kept returns the reply that the path names.
func (a *API) kept(c *gin.Context) (*notice.KeptReply, error) {
	id, err := param(c, "id")
	if err != nil {
		return nil, err
	}
	number, err := strconv.Atoi(c.Param("number"))
	if err != nil || number < 1 {
		return nil, inventory.NotFound("reply", c.Param("number"), "Look at the notice for its replies.")
	}
	return a.notices().Replied(c.Request.Context(), notice.ID(id), number)
}

type noticeReply struct {
	Notice string `json:"notice"`
	replyLine
	Answer noticeAnswer `json:"answer"`
}

// getNoticeReply answers GET /v1/notices/:id/replies/:number: what was answered,
// as it was then, with a page of its treatments.
func (a *API) getNoticeReply(c *gin.Context) error {
	q, err := query(c, "limit", "after")
	if err != nil {
		return err
	}
	k, err := a.kept(c)
	if err != nil {
		return err
	}
	out := noticeReply{string(k.Notice), replyLineOf(&k.Reply, k.Done), noticeAnswerOf(k.Answer, k.Signer)}
	if err := out.Answer.page(q, k.Answer.Treatments); err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// paperOf reads the parameter paper.
func paperOf(c *gin.Context) (reports.Paper, error) {
	q, err := query(c, "paper")
	if err != nil {
		return 0, err
	}
	switch q.Get("paper") {
	case "", "A4":
		return reports.A4, nil
	case "Letter":
		return reports.Letter, nil
	}
	return 0, problem.Bad("wrong_type", "paper", "Use A4 or Letter.", "There is no paper %q.", q.Get("paper"))
}

// getReplyWorkbook answers GET /v1/notices/:id/replies/:number/reply.xlsx: what
// goes to the issuer, with counts and no patients.
func (a *API) getReplyWorkbook(c *gin.Context) error {
	k, wb, err := a.replyBook(c)
	if err != nil {
		return err
	}
	return a.workbook(c, wb, fileName("reply", string(k.Notice), strconv.Itoa(k.Number), k.Answer.Reference))
}

// getReplyUnitWorkbook answers GET /v1/notices/:id/replies/:number/unit.xlsx: the
// unit's own workbook as it was when the reply was sent, with the patients.
func (a *API) getReplyUnitWorkbook(c *gin.Context) error {
	paper, err := paperOf(c)
	if err != nil {
		return err
	}
	k, err := a.kept(c)
	if err != nil {
		return err
	}
	by, err := reports.KeptAsked(k, paper)
	if err != nil {
		return err
	}
	return a.workbook(c, reports.NoticeAnswer(k.Answer, by), fileName("notice", string(k.Notice), strconv.Itoa(k.Number), k.Answer.Reference))
}

// replyBook is what goes to the issuer of the reply that the path names.
func (a *API) replyBook(c *gin.Context) (*notice.KeptReply, *reports.Workbook, error) {
	paper, err := paperOf(c)
	if err != nil {
		return nil, nil, err
	}
	k, err := a.kept(c)
	if err != nil {
		return nil, nil, err
	}
	wb, err := reports.NoticeReply(k, paper)
	return k, wb, err
}

// getReplyLetter answers GET /v1/notices/:id/replies/:number/letter: the same as
// a page for print, with lines to sign on.
func (a *API) getReplyLetter(c *gin.Context) error {
	_, wb, err := a.replyBook(c)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := letter.Write(&b, wb); err != nil {
		return err
	}
	c.Header("Content-Security-Policy", letter.Policy(wb.Paper))
	c.Data(http.StatusOK, "text/html; charset=utf-8", b.Bytes())
	return nil
}
