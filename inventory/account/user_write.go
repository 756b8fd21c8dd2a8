package account

import (
	"context"

	"lotbook/inventory"
)

// NewUser is what is said about a user to be added.
type NewUser struct {
	ID   UserID `json:"id"`
	Name string `json:"name"`
	Role Role   `json:"role"`
}

// Add adds a user, with a first password if one is given; without one the user
// can't sign in until SetPassword. Errors: a Refusal, ErrUserExists,
// inventory.ErrKeyReused, ErrBusy and those of the store.
func (a *Accounts) Add(ctx context.Context, call inventory.Call, nu NewUser, password string) (User, error) {
	if err := CheckID(nu.ID); err != nil {
		return User{}, err
	}
	name, err := checkName(nu.Name)
	if err != nil {
		return User{}, err
	}
	nu.Name = name
	if nu.Role, err = ParseRole(string(nu.Role)); err != nil {
		return User{}, err
	}
	add := func(r inventory.Reader) ([]inventory.Event, error) {
		if _, ok, err := getUser(r, nu.ID); err != nil || ok {
			if ok {
				err = ErrUserExists
			}
			return nil, err
		}
		return []inventory.Event{&UserAdded{User: nu.ID, Name: nu.Name, Role: nu.Role}}, nil
	}
	asked := struct {
		Add      NewUser `json:"add"`
		Password bool    `json:"password"`
	}{nu, password != ""}
	if password == "" {
		_, err = a.append(ctx, call, asked, add)
	} else if err = CheckPassword(password, nu.ID, nu.Name); err == nil {
		err = a.writePassword(ctx, call, nu.ID, password, asked, add)
	}
	if err != nil {
		return User{}, err
	}
	return a.User(ctx, nu.ID)
}

// A Change says what is to be different about a user; nil members stay.
type Change struct {
	Name   *string `json:"name,omitempty"`
	Role   *Role   `json:"role,omitempty"`
	Active *bool   `json:"active,omitempty"`
}

// Change changes a user's name or role, deactivates or activates them. A role
// counts from the next request on; deactivating ends all sessions and tokens,
// and activating again does not bring them back. A change to what is so
// already writes nothing. Errors: a Refusal, ErrNoUser, ErrLastAdministrator,
// inventory.ErrKeyReused and those of the store.
func (a *Accounts) Change(ctx context.Context, call inventory.Call, id UserID, c Change) (User, error) {
	if c.Name != nil {
		name, err := checkName(*c.Name)
		if err != nil {
			return User{}, err
		}
		c.Name = &name
	}
	if c.Role != nil {
		if _, err := ParseRole(string(*c.Role)); err != nil {
			return User{}, err
		}
	}
	asked := struct {
		User   UserID `json:"user"`
		Change Change `json:"change"`
	}{id, c}
	_, err := a.append(ctx, call, asked, func(r inventory.Reader) ([]inventory.Event, error) {
		u, err := mustUser(r, id)
		if err != nil {
			return nil, err
		}
		ev := &UserChanged{User: id, Name: differing(c.Name, u.Name), Role: differing(c.Role, u.Role), Active: differing(c.Active, u.Active)}
		if ev.Name == nil && ev.Role == nil && ev.Active == nil {
			return nil, nil
		}
		if isAdministrator(u) && (ev.Role != nil || ev.Active != nil) {
			if err := anotherAdministrator(r, id); err != nil {
				return nil, err
			}
		}
		return []inventory.Event{ev}, nil
	})
	if err != nil {
		return User{}, err
	}
	u, err := a.User(ctx, id)
	if err == nil && !u.Active {
		a.forget(ctx, id)
	}
	return u, err
}

// differing returns p unless it is nil or says what is so already.
func differing[T comparable](p *T, now T) *T {
	if p == nil || *p == now {
		return nil
	}
	return p
}

func isAdministrator(u userRow) bool { return u.Active && u.Role == Administrator }

func anotherAdministrator(r inventory.Reader, but UserID) error {
	found := false
	err := scanUsers(r, func(u userRow) error {
		if u.ID != but && isAdministrator(u) {
			found = true
			return inventory.ErrStop
		}
		return nil
	})
	if err == nil && !found {
		err = ErrLastAdministrator
	}
	return err
}
