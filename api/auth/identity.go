package auth

import (
	"context"

	"lotbook/inventory"
	"lotbook/inventory/account"
)

// An Identity is who asks: an active user, with name and role as of now.
type Identity struct {
	User account.UserID
	Name string
	Role account.Role
	// SignIn is the number of the sign-in, 0 if a token was used; Token is
	// the token's id, 0 if a session was.
	SignIn uint64
	Token  account.TokenID
}

// Call returns what says that this user asks, under a client's key.
func (id Identity) Call(key string) inventory.Call {
	return inventory.Call{Actor: string(id.User), Key: key}
}

// MayManage reports whether this user may see and revoke what belongs to a
// user, such as a token: that user and administrators may. The table of routes
// can't say so, since it does not know whose the thing is.
func (id Identity) MayManage(user account.UserID) bool {
	return id.User == user || id.Role == account.Administrator
}

type contextKey struct{}

// NewContext returns a context that carries an Identity.
func NewContext(ctx context.Context, id Identity) context.Context {
	return context.WithValue(ctx, contextKey{}, id)
}

// FromContext returns the Identity that Guard put into a request's context; ok
// is false on public routes.
func FromContext(ctx context.Context) (id Identity, ok bool) {
	id, ok = ctx.Value(contextKey{}).(Identity)
	return id, ok
}
