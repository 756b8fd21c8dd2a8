package auth

import (
	"context"

	"lotbook/inventory/account"
)

// Names returns what the unit's users are called, by id; those whose access has
// ended too.
func (a *Auth) Names(ctx context.Context) (account.Names, error) { return a.accounts.Names(ctx) }
