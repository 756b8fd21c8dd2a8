package inventorytest

import "hash/maphash"

// A tree is a sorted map that is never changed: put and without return a new
// one that shares most of it. It is a treap; nil is the empty tree.
type tree struct {
	key         string
	value       []byte
	weight      uint64
	left, right *tree
}

var seed = maphash.MakeSeed()

func (t *tree) get(key string) ([]byte, bool) {
	for t != nil {
		switch {
		case key < t.key:
			t = t.left
		case key > t.key:
			t = t.right
		default:
			return t.value, true
		}
	}
	return nil, false
}

func (t *tree) put(key string, value []byte) *tree {
	if t == nil {
		return &tree{key: key, value: value, weight: maphash.String(seed, key)}
	}
	n := *t
	switch {
	case key < t.key:
		n.left = t.left.put(key, value)
		if l := n.left; l.weight > n.weight { // l is new: put made it
			n.left, l.right = l.right, &n
			return l
		}
	case key > t.key:
		n.right = t.right.put(key, value)
		if r := n.right; r.weight > n.weight {
			n.right, r.left = r.left, &n
			return r
		}
	default:
		n.value = value
	}
	return &n
}

func (t *tree) without(key string) *tree {
	if t == nil {
		return nil
	}
	n := *t
	switch {
	case key < t.key:
		n.left = t.left.without(key)
	case key > t.key:
		n.right = t.right.without(key)
	default:
		return merge(t.left, t.right)
	}
	return &n
}

// merge joins two trees, all of whose keys are below and above each other.
func merge(a, b *tree) *tree {
	switch {
	case a == nil:
		return b
	case b == nil:
		return a
	case a.weight > b.weight:
		n := *a
		n.right = merge(a.right, b)
		return &n
	default:
		n := *b
		n.left = merge(a, b.left)
		return &n
	}
}

// up calls fn for the rows from a key on.
func (t *tree) up(from string, fn func(string, []byte) error) error {
	if t == nil {
		return nil
	}
	if t.key >= from {
		if err := t.left.up(from, fn); err != nil {
			return err
		}
		if err := fn(t.key, t.value); err != nil {
			return err
		}
	}
	return t.right.up(from, fn)
}

// down calls fn for the rows that are not past the end, the last first.
func (t *tree) down(past func(string) bool, fn func(string, []byte) error) error {
	if t == nil {
		return nil
	}
	if !past(t.key) {
		if err := t.right.down(past, fn); err != nil {
			return err
		}
		if err := fn(t.key, t.value); err != nil {
			return err
		}
	}
	return t.left.down(past, fn)
}

func cloneMap[K comparable, V any](m map[K]V) map[K]V {
	c := make(map[K]V, len(m))
	for k, v := range m {
		c[k] = v
	}
	return c
}
