package v1

import (
	"encoding/base64"
	"encoding/json"
	"net/url"
	"strconv"

	"lotbook/api/problem"
)

// The sizes of a page.
const (
	defaultLimit = 100
	maxLimit     = 1000
)

// limitOf returns how many lines a page should have.
func limitOf(q url.Values) (int, error) {
	if !q.Has("limit") {
		return defaultLimit, nil
	}
	n, err := strconv.Atoi(q.Get("limit"))
	if err != nil || n < 1 || n > maxLimit {
		return 0, problem.Bad("limit", "limit", "Leave it out for "+strconv.Itoa(defaultLimit)+" lines.", "A page has 1 to %d lines.", maxLimit)
	}
	return n, nil
}

// A place in a list is written as JSON in base64url, which is nobody's business
// but this package's.
func placeOf(v any) (string, error) {
	b, err := json.Marshal(v)
	return base64.RawURLEncoding.EncodeToString(b), err
}

// afterOf reads the place where the last page ended; ok is false at the start.
func afterOf(q url.Values, v any) (ok bool, err error) {
	s := q.Get("after")
	if s == "" {
		return false, nil
	}
	b, err := base64.RawURLEncoding.DecodeString(s)
	if err == nil {
		err = json.Unmarshal(b, v)
	}
	if err != nil {
		return false, problem.Bad("after", "after", "Send what the page before has as next, unchanged.", "This is not the end of a page.")
	}
	return true, nil
}

// pageOf cuts a page out of a list that is sorted by id: the lines behind
// after.
func pageOf[T any](q url.Values, list []T, id func(*T) string) (page []T, next string, err error) {
	limit, err := limitOf(q)
	if err != nil {
		return nil, "", err
	}
	var after string
	if _, err := afterOf(q, &after); err != nil {
		return nil, "", err
	}
	page = []T{}
	for i := range list {
		if after != "" && id(&list[i]) <= after {
			continue
		}
		if len(page) == limit {
			next, err = placeOf(id(&page[limit-1]))
			return page, next, err
		}
		page = append(page, list[i])
	}
	return page, "", nil
}

func boolOf(q url.Values, name string) (bool, error) {
	switch q.Get(name) {
	case "", "false":
		return false, nil
	case "true":
		return true, nil
	}
	return false, problem.Bad("wrong_type", name, "Use true or false.", "The parameter %q is neither true nor false.", name)
}
