package auth

import "context"

// Names returns what the unit's users are called, by id; those whose access has
// ended too.
func (a *Auth) Names(ctx context.Context) (map[string]string, error) {
	users, err := a.accounts.Users(ctx)
	if err != nil {
		return nil, err
	}
	names := make(map[string]string, len(users))
	for _, u := range users {
		names[string(u.ID)] = u.Name
	}
	return names, nil
}
