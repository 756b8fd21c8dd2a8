package v1

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory/account"
)

// user is somebody who may use the tool.
type user struct {
	ID          string    `json:"id"`
	Name        string    `json:"name"`
	Role        string    `json:"role"`
	Active      bool      `json:"active"`
	HasPassword bool      `json:"has_password"`
	Added       time.Time `json:"added"`
	Changed     time.Time `json:"changed"`
}

func userOf(u account.User) user {
	return user{string(u.ID), u.Name, string(u.Role), u.Active, u.HasPassword, u.Added, u.Changed}
}

type userPage struct {
	Users []user `json:"users"`
	Next  string `json:"next,omitempty"`
}

// listUsers answers GET /v1/users.
func (a *API) listUsers(c *gin.Context) error {
	q, err := query(c, "limit", "after")
	if err != nil {
		return err
	}
	us, err := a.Accounts.Users(c.Request.Context())
	if err != nil {
		return err
	}
	all := make([]user, len(us))
	for i, u := range us {
		all[i] = userOf(u)
	}
	var out userPage
	if out.Users, out.Next, err = pageOf(q, all, func(u *user) string { return u.ID }); err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// userRequest adds a user. Without a password the user can't sign in yet.
type userRequest struct {
	ID       string `json:"id"`
	Name     string `json:"name"`
	Role     string `json:"role"`
	Password string `json:"password"`
}

// userWritten says what was asked for and is so. It is made from the request,
// so that it is the same when the request is sent again.
type userWritten struct {
	ID          string  `json:"id"`
	Name        *string `json:"name,omitempty"`
	Role        *string `json:"role,omitempty"`
	Active      *bool   `json:"active,omitempty"`
	PasswordSet bool    `json:"password_set"`
}

// createUser answers POST /v1/users.
func (a *API) createUser(c *gin.Context) error {
	var req userRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, nil)
	if err != nil {
		return err
	}
	id := account.NormalID(req.ID)
	nu := account.NewUser{ID: id, Name: req.Name, Role: account.Role(req.Role)}
	if _, err := a.Accounts.Add(c.Request.Context(), call, nu, req.Password); err != nil {
		return err
	}
	return respond(c, http.StatusCreated, userWritten{ID: string(id), Name: &req.Name, Role: &req.Role, PasswordSet: req.Password != ""})
}

// userChangeRequest changes a user's name or role, activates or deactivates
// them, or gives them another password; the latter is a write of its own.
type userChangeRequest struct {
	Name     *string `json:"name"`
	Role     *string `json:"role"`
	Active   *bool   `json:"active"`
	Password *string `json:"password"`
}

// createUserChange answers POST /v1/users/:id/changes.
func (a *API) createUserChange(c *gin.Context) error {
	var req userChangeRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, nil)
	if err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	change := account.Change{Name: req.Name, Role: (*account.Role)(req.Role), Active: req.Active}
	changes := change != (account.Change{})
	switch {
	case req.Password != nil && changes:
		return problem.Bad("lines", "password", "Send the password in a request of its own.", "A password is not set together with something else.")
	case req.Password != nil:
		err = a.Accounts.SetPassword(c.Request.Context(), call, account.UserID(id), *req.Password)
	case changes:
		_, err = a.Accounts.Change(c.Request.Context(), call, account.UserID(id), change)
	default:
		return problem.Bad("parameter_missing", "name", "Give a name, a role, active or a password.", "There is nothing to change.")
	}
	if err != nil {
		return err
	}
	return respond(c, http.StatusCreated, userWritten{ID: id, Name: req.Name, Role: req.Role, Active: req.Active, PasswordSet: req.Password != nil})
}
