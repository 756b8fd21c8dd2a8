package boltstore

import (
	"bytes"
	"context"
	"errors"
	"fmt"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
)

// maxSecret is the most bytes that a vault's key or value may have.
const maxSecret = 4096

// Vault implements inventory.Store.
func (s *Store) Vault() inventory.Vault { return vault{s} }

type vault struct{ s *Store }

// Get implements inventory.Vault.
func (v vault) Get(ctx context.Context, key string) (value []byte, err error) {
	err = v.read(ctx, func(b *bolt.Bucket) error {
		found := b.Get([]byte(key))
		if found == nil {
			return nil
		}
		found, ok := openSecret([]byte(key), found)
		if !ok {
			return fmt.Errorf("boltstore: vault: %w: a value's checksum is wrong", ErrDamaged)
		}
		value = append([]byte{}, found...)
		return nil
	})
	return value, err
}

// Put implements inventory.Vault.
func (v vault) Put(ctx context.Context, key string, value []byte) error {
	if key == "" || len(key) > maxSecret || len(value) > maxSecret {
		return fmt.Errorf("boltstore: vault: a key of %d and a value of %d bytes: a key has 1 to %d, a value at most %d",
			len(key), len(value), maxSecret, maxSecret)
	}
	k, sealed := []byte(key), sealSecret(key, value)
	return v.write(ctx, func(b *bolt.Bucket) error { return b.Put(k, sealed) })
}

// Delete implements inventory.Vault.
func (v vault) Delete(ctx context.Context, key string) error {
	k := []byte(key)
	return v.write(ctx, func(b *bolt.Bucket) error { return b.Delete(k) })
}

// Scan implements inventory.Vault. All pairs are from one moment; fn may use
// the vault.
func (v vault) Scan(ctx context.Context, prefix string, fn func(key string, value []byte) error) error {
	type pair struct {
		key   string
		value []byte
	}
	var pairs []pair
	err := v.read(ctx, func(b *bolt.Bucket) error {
		c := b.Cursor()
		for k, val := c.Seek([]byte(prefix)); k != nil && bytes.HasPrefix(k, []byte(prefix)); k, val = c.Next() {
			val, ok := openSecret(k, val)
			if !ok {
				return fmt.Errorf("boltstore: vault: %w: a value's checksum is wrong", ErrDamaged)
			}
			pairs = append(pairs, pair{string(k), append([]byte{}, val...)})
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, p := range pairs {
		if err := fn(p.key, p.value); err != nil {
			if errors.Is(err, inventory.ErrStop) {
				return nil
			}
			return err
		}
	}
	return nil
}

func (v vault) read(ctx context.Context, fn func(*bolt.Bucket) error) error {
	return v.s.View(ctx, func(r inventory.Reader) error {
		return fn(r.(*snapshot).tx.Bucket([]byte(vaultBucket)))
	})
}

func (v vault) write(ctx context.Context, fn func(*bolt.Bucket) error) error {
	p := newPending(ctx)
	p.vault = fn
	if err := v.s.submit(ctx, p); err != nil {
		return err
	}
	err := p.err
	p.release()
	if err != nil {
		return fmt.Errorf("boltstore: vault: %w", err)
	}
	return nil
}
