package v1

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory/account"
)

// token lets a program use the API as a user.
type token struct {
	ID       uint64    `json:"id"`
	User     string    `json:"user"`
	Label    string    `json:"label"`
	Issued   time.Time `json:"issued"`
	IssuedBy string    `json:"issued_by"`
	Expires  time.Time `json:"expires"`
	Revoked  time.Time `json:"revoked,omitzero"`
	Valid    bool      `json:"valid"`
	Seen     time.Time `json:"seen,omitzero"`
}

func tokenOf(t account.Token) token {
	return token{uint64(t.ID), string(t.User), t.Label, t.Issued, string(t.IssuedBy), t.Expires, t.Revoked, t.Valid, t.Seen}
}

type tokenPage struct {
	Tokens []token `json:"tokens"`
}

// may says whether who asks may see and revoke a user's tokens.
func may(c *gin.Context, user account.UserID) (auth.Identity, error) {
	id, ok := auth.FromContext(c.Request.Context())
	if !ok {
		return id, errNoIdentity
	}
	if !id.MayManage(user) {
		return id, &auth.Denied{Method: c.Request.Method, Pattern: c.FullPath(), Role: id.Role, Allowed: []account.Role{account.Administrator}}
	}
	return id, nil
}

// userAsked returns the user that a request names, or else the one who asks, if
// who asks may manage that user.
func userAsked(c *gin.Context, named string) (account.UserID, error) {
	if named == "" {
		id, ok := auth.FromContext(c.Request.Context())
		if !ok {
			return "", errNoIdentity
		}
		return id.User, nil
	}
	user := account.NormalID(named)
	_, err := may(c, user)
	return user, err
}

// listTokens answers GET /v1/tokens: one's own, or for an administrator those
// of the user named.
func (a *API) listTokens(c *gin.Context) error {
	q, err := query(c, "user")
	if err != nil {
		return err
	}
	user, err := userAsked(c, q.Get("user"))
	if err != nil {
		return err
	}
	ts, err := a.Accounts.Tokens(c.Request.Context(), user)
	if err != nil {
		return err
	}
	out := tokenPage{Tokens: make([]token, len(ts))}
	for i, t := range ts {
		out.Tokens[i] = tokenOf(t)
	}
	return respond(c, http.StatusOK, out)
}

// tokenRequest asks for a token for oneself; an administrator may name a user.
type tokenRequest struct {
	User    string     `json:"user"`
	Label   string     `json:"label"`
	Expires *time.Time `json:"expires"`
}

// tokenWritten is a new token. Secret is shown once: when the request is sent
// again it is left out, since it is kept nowhere.
type tokenWritten struct {
	ID      uint64    `json:"id"`
	User    string    `json:"user"`
	Label   string    `json:"label"`
	Issued  time.Time `json:"issued"`
	Expires time.Time `json:"expires"`
	Secret  string    `json:"secret,omitempty"`
}

// createToken answers POST /v1/tokens.
func (a *API) createToken(c *gin.Context) error {
	var req tokenRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, nil)
	if err != nil {
		return err
	}
	nt := account.NewToken{Label: req.Label}
	if nt.User, err = userAsked(c, req.User); err != nil {
		return err
	}
	if req.Expires != nil {
		nt.Expires = req.Expires.UTC()
	}
	t, err := a.Accounts.IssueToken(c.Request.Context(), call, nt)
	if err != nil {
		return err
	}
	replayed(c, t.Secret == "")
	return respond(c, http.StatusCreated, tokenWritten{uint64(t.ID), string(t.User), t.Label, t.Issued, t.Expires, t.Secret})
}

type revocationWritten struct {
	Token   uint64    `json:"token"`
	User    string    `json:"user"`
	Revoked time.Time `json:"revoked"`
}

// createRevocation answers POST /v1/tokens/:id/revocations.
func (a *API) createRevocation(c *gin.Context) error {
	var req struct{}
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, nil)
	if err != nil {
		return err
	}
	s, err := param(c, "id")
	if err != nil {
		return err
	}
	n, err := strconv.ParseUint(s, 10, 64)
	if err != nil {
		return account.ErrNoToken
	}
	ctx := c.Request.Context()
	t, err := a.Accounts.TokenByID(ctx, account.TokenID(n))
	if err != nil {
		return err
	}
	if _, err := may(c, t.User); err != nil {
		return err
	}
	if t, err = a.Accounts.RevokeToken(ctx, call, t.ID); err != nil {
		return err
	}
	return respond(c, http.StatusCreated, revocationWritten{uint64(t.ID), string(t.User), t.Revoked})
}
