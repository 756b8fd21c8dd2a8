package account

import "context"

// Names are what users are called, by id.
type Names map[string]string

// Of returns what a user is called, or the id of one that is not there.
func (n Names) Of(id string) string {
	if name := n[id]; name != "" {
		return name
	}
	return id
}

// Names returns what all users are called, those deactivated too.
func (a *Accounts) Names(ctx context.Context) (Names, error) {
	users, err := a.Users(ctx)
	if err != nil {
		return nil, err
	}
	names := make(Names, len(users))
	for _, u := range users {
		names[string(u.ID)] = u.Name
	}
	return names, nil
}
