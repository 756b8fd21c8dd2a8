package v1

import (
	"context"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// notices is the book of field notices over the unit's book.
func (a *API) notices() *notice.Book { return notice.NewBook(a.Book) }

// actWritten answers what was recorded about a notice.
type actWritten[W any] struct {
	written
	Notice string `json:"notice"`
	Said   W      `json:"said"`
}

// noticeAct answers a write about the notice that the path names: said is what
// the event says, in the form of the request.
func noticeAct[E inventory.Event, W any](a *API, c *gin.Context, req any, at **time.Time, do func(context.Context, inventory.Call, notice.ID) (inventory.Receipt, error), said func(E) W) error {
	call, id, err := writeOf(c, req, at)
	if err != nil {
		return err
	}
	rec, err := do(c.Request.Context(), call, notice.ID(id))
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		for _, ev := range evs {
			// A hold may follow what was said.
			if ev, ok := ev.(E); ok {
				return actWritten[W]{w, id, said(ev)}, nil
			}
		}
		return nil, errOtherEntry
	})
}

type assignment struct {
	Action string `json:"action"`
	To     string `json:"to"`
	Due    string `json:"due,omitempty"`
}

// createAssignment answers POST /v1/notices/:id/assignments.
func (a *API) createAssignment(c *gin.Context) error {
	var req struct {
		happened
		assignment
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		return a.notices().Assign(ctx, call, notice.ActionAssigned{Notice: id, Action: req.Action, To: req.To, Due: inventory.Date(req.Due)})
	}, func(ev *notice.ActionAssigned) assignment { return assignment{ev.Action, ev.To, string(ev.Due)} })
}

type actionDone struct {
	Action       string `json:"action"`
	DoneBy       string `json:"done_by,omitempty"`
	Note         string `json:"note,omitempty"`
	NotConcerned bool   `json:"not_concerned,omitempty"`
}

// createActionDone answers POST /v1/notices/:id/actions.
func (a *API) createActionDone(c *gin.Context) error {
	var req struct {
		happened
		actionDone
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		return a.notices().MarkDone(ctx, call, notice.ActionDone{Notice: id, Action: req.Action, DoneBy: req.DoneBy, Note: req.Note, NotConcerned: req.NotConcerned})
	}, func(ev *notice.ActionDone) actionDone {
		return actionDone{ev.Action, ev.DoneBy, ev.Note, ev.NotConcerned}
	})
}

type review struct {
	Patient   string `json:"patient"`
	Clinician string `json:"clinician"`
	How       string `json:"how"`
	Note      string `json:"note,omitempty"`
}

func reviewOf(v *notice.PatientReviewed) review {
	return review{string(v.Patient), v.Clinician, v.How, v.Note}
}

// createReview answers POST /v1/notices/:id/reviews.
func (a *API) createReview(c *gin.Context) error {
	var req struct {
		happened
		review
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		return a.notices().Review(ctx, call, notice.PatientReviewed{Notice: id, Patient: trace.PatientID(req.Patient), Clinician: req.Clinician, How: req.How, Note: req.Note})
	}, reviewOf)
}

type machineHandled struct {
	Machine string `json:"machine"`
	What    string `json:"what"`
	DoneBy  string `json:"done_by,omitempty"`
}

func handledOf(v *notice.MachineHandled) machineHandled {
	return machineHandled{string(v.Machine), v.What, v.DoneBy}
}

// createMachineHandled answers POST /v1/notices/:id/machines.
func (a *API) createMachineHandled(c *gin.Context) error {
	var req struct {
		happened
		machineHandled
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		return a.notices().HandleMachine(ctx, call, notice.MachineHandled{Notice: id, Machine: trace.MachineID(req.Machine), What: req.What, DoneBy: req.DoneBy})
	}, handledOf)
}

type telling struct {
	Who  string `json:"who"`
	How  string `json:"how"`
	Note string `json:"note,omitempty"`
}

func tellingOf(v *notice.Told) telling { return telling{v.Who, v.How, v.Note} }

// createTelling answers POST /v1/notices/:id/tellings.
func (a *API) createTelling(c *gin.Context) error {
	var req struct {
		happened
		telling
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		return a.notices().Tell(ctx, call, notice.Told{Notice: id, Who: req.Who, How: req.How, Note: req.Note})
	}, tellingOf)
}

type effectiveness struct {
	Level   string `json:"level,omitempty"`
	Asked   int    `json:"asked"`
	Reached int    `json:"reached"`
	How     string `json:"how"`
}

func effectivenessOf(v *notice.EffectivenessChecked) effectiveness {
	return effectiveness{v.Level, v.Asked, v.Reached, v.How}
}

// createEffectiveness answers POST /v1/notices/:id/effectiveness-checks.
func (a *API) createEffectiveness(c *gin.Context) error {
	var req struct {
		happened
		effectiveness
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		return a.notices().CheckEffectiveness(ctx, call, notice.EffectivenessChecked{Notice: id, Level: req.Level, Asked: req.Asked, Reached: req.Reached, How: req.How})
	}, effectivenessOf)
}

// signature is that of a person who gave their password again.
type signature struct {
	User    string `json:"user"`
	Name    string `json:"name"`
	Meaning string `json:"meaning"`
	Head    head   `json:"head"`
}

type closing struct {
	Open      []string  `json:"open"`
	Accepted  string    `json:"accepted,omitempty"`
	Signature signature `json:"signature"`
}

func closingOf(v *notice.Closed) closing {
	return closing{append([]string{}, v.Open...), v.Accepted, signature{v.Signature.User, v.Signature.Name, v.Signature.Meaning, headOf(v.Signature.Head)}}
}

// createNoticeClosing answers POST /v1/notices/:id/closings: whoever closes a
// notice signs with the password.
func (a *API) createNoticeClosing(c *gin.Context) error {
	var req struct {
		happened
		Password string `json:"password"`
		Meaning  string `json:"meaning"`
		Accepted string `json:"accepted"`
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		who, ok := auth.FromContext(ctx)
		if !ok {
			return inventory.Receipt{}, errNoIdentity
		}
		if err := a.Accounts.VerifyAgain(ctx, account.UserID(call.Actor), req.Password); err != nil {
			return inventory.Receipt{}, err
		}
		return a.notices().CloseNotice(ctx, call, notice.ClosingUp{Notice: id, Accepted: req.Accepted, Name: who.Name, Meaning: req.Meaning})
	}, closingOf)
}

type reopening struct {
	Reason string `json:"reason"`
}

// createReopening answers POST /v1/notices/:id/reopenings.
func (a *API) createReopening(c *gin.Context) error {
	var req struct {
		happened
		reopening
	}
	return noticeAct(a, c, &req, &req.At, func(ctx context.Context, call inventory.Call, id notice.ID) (inventory.Receipt, error) {
		return a.notices().Reopen(ctx, call, notice.Reopened{Notice: id, Reason: req.Reason})
	}, func(ev *notice.Reopened) reopening { return reopening{ev.Reason} })
}

// done is who recorded something about a notice, and when.
type done struct {
	Entry uint64    `json:"entry"`
	By    string    `json:"by"`
	At    time.Time `json:"at"`
}

type actionState struct {
	ID           string `json:"id"`
	Text         string `json:"text"`
	Due          string `json:"due,omitempty"`
	Version      int    `json:"version"`
	Dropped      bool   `json:"dropped,omitempty"`
	To           string `json:"to,omitempty"`
	Done         *done  `json:"done,omitempty"`
	DoneBy       string `json:"done_by,omitempty"`
	Note         string `json:"note,omitempty"`
	NotConcerned bool   `json:"not_concerned,omitempty"`
}

// said is something that was recorded about a notice.
type said[W any] struct {
	done
	Said W `json:"said"`
}

type due struct {
	Notice    string `json:"notice"`
	Reference string `json:"reference"`
	Item      string `json:"item"`
	What      string `json:"what"`
	To        string `json:"to,omitempty"`
	Due       string `json:"due"`
}

type noticeProgress struct {
	Notice     string                 `json:"notice"`
	Actions    []actionState          `json:"actions"`
	Reviews    []said[review]         `json:"reviews"`
	Machines   []said[machineHandled] `json:"machines"`
	Tellings   []said[telling]        `json:"tellings"`
	Checks     []said[effectiveness]  `json:"effectiveness_checks"`
	Replies    []done                 `json:"replies"`
	Closing    *said[closing]         `json:"closing,omitempty"`
	Reopenings int                    `json:"reopenings"`
	// Open is what is not done yet, in words.
	Open []string `json:"open"`
}

// getNoticeProgress answers GET /v1/notices/:id/progress.
func (a *API) getNoticeProgress(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	ans, err := a.notices().Answer(ctx, notice.ID(id), 0)
	if err != nil {
		return err
	}
	state, p, err := a.notices().ByID(ctx, notice.ID(id))
	if err != nil {
		return err
	}
	out := progressOf(p)
	out.Notice, out.Open = id, append([]string{}, p.Open(state, ans)...)
	return respond(c, http.StatusOK, out)
}

func doneOf(d notice.Done) done { return done(d) }

func progressOf(p *notice.Progress) noticeProgress {
	out := noticeProgress{
		Actions: []actionState{}, Reviews: []said[review]{}, Machines: []said[machineHandled]{}, Tellings: []said[telling]{},
		Checks: []said[effectiveness]{}, Replies: []done{}, Reopenings: p.Reopenings,
	}
	for i := range p.Actions {
		x := &p.Actions[i]
		s := actionState{x.ID, x.Text, string(x.Due), x.Version, x.Dropped, x.To, nil, x.DoneBy, x.Note, x.NotConcerned}
		if x.Done != nil {
			d := doneOf(*x.Done)
			s.Done = &d
		}
		out.Actions = append(out.Actions, s)
	}
	for i := range p.Reviews {
		out.Reviews = append(out.Reviews, said[review]{doneOf(p.Reviews[i].Done), reviewOf(&p.Reviews[i].PatientReviewed)})
	}
	for i := range p.Machines {
		out.Machines = append(out.Machines, said[machineHandled]{doneOf(p.Machines[i].Done), handledOf(&p.Machines[i].MachineHandled)})
	}
	for i := range p.Told {
		out.Tellings = append(out.Tellings, said[telling]{doneOf(p.Told[i].Done), tellingOf(&p.Told[i].Told)})
	}
	for i := range p.Checks {
		out.Checks = append(out.Checks, said[effectiveness]{doneOf(p.Checks[i].Done), effectivenessOf(&p.Checks[i].EffectivenessChecked)})
	}
	for _, d := range p.Replied {
		out.Replies = append(out.Replies, doneOf(d.Done))
	}
	if p.Closed != nil {
		out.Closing = &said[closing]{doneOf(p.Closed.Done), closingOf(&p.Closed.Closed)}
	}
	return out
}

// getOverdue answers GET /v1/overdue: what should have been done on open
// notices. It names no patient, so that everybody can be told.
func (a *API) getOverdue(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	list, err := a.notices().Overdue(c.Request.Context())
	if err != nil {
		return err
	}
	out := struct {
		Overdue []due `json:"overdue"`
	}{[]due{}}
	for _, d := range list {
		out.Overdue = append(out.Overdue, due{string(d.Notice), d.Reference, d.Item, d.What, d.To, string(d.Due)})
	}
	return respond(c, http.StatusOK, out)
}
