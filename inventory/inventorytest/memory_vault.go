package inventorytest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"lotbook/inventory"
)

func (s *memoryStore) Vault() inventory.Vault { return memoryVault{s} }

type memoryVault struct{ s *memoryStore }

func (v memoryVault) do(ctx context.Context, fn func(map[string][]byte) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	v.s.mu.Lock()
	defer v.s.mu.Unlock()
	if v.s.done {
		return errMemoryClosed
	}
	return fn(v.s.disk.vault)
}

func (v memoryVault) Get(ctx context.Context, key string) (value []byte, err error) {
	err = v.do(ctx, func(m map[string][]byte) error {
		if found, ok := m[key]; ok {
			value = append([]byte{}, found...)
		}
		return nil
	})
	return value, err
}

func (v memoryVault) Put(ctx context.Context, key string, value []byte) error {
	if key == "" || len(key) > 4096 || len(value) > 4096 {
		return fmt.Errorf("memory: vault: a key of %d and a value of %d bytes: at most 4096", len(key), len(value))
	}
	return v.do(ctx, func(m map[string][]byte) error {
		m[key] = append([]byte{}, value...)
		return nil
	})
}

func (v memoryVault) Delete(ctx context.Context, key string) error {
	return v.do(ctx, func(m map[string][]byte) error {
		delete(m, key)
		return nil
	})
}

func (v memoryVault) Scan(ctx context.Context, prefix string, fn func(key string, value []byte) error) error {
	var keys []string
	values := map[string][]byte{}
	err := v.do(ctx, func(m map[string][]byte) error {
		for k, val := range m {
			if strings.HasPrefix(k, prefix) {
				keys = append(keys, k)
				values[k] = append([]byte{}, val...)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	slices.Sort(keys)
	for _, k := range keys {
		if err := fn(k, values[k]); errors.Is(err, inventory.ErrStop) {
			return nil
		} else if err != nil {
			return err
		}
	}
	return nil
}
