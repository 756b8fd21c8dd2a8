package main

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"strings"

	"golang.org/x/term"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
)

// runUser adds and lists users: the first administrator is made here.
func runUser(ctx context.Context, e *env, args []string) (int, error) {
	if len(args) == 0 {
		return exitUsage, wrongUsage("say add, token or list")
	}
	f := flags("user " + args[0])
	data := f.String("data", "", "")
	id := f.String("id", "", "")
	name := f.String("name", "", "")
	role := f.String("role", "", "")
	label := f.String("label", "made at the command line", "")
	if err := parse(f, args[1:]); err != nil {
		return exitUsage, err
	}
	switch args[0] {
	case "add":
		if *id == "" || *name == "" || *role == "" {
			return exitUsage, wrongUsage("add takes --id, --name and --role (nurse, stock, quality or administrator)")
		}
		h, err := openHouse(ctx, e, *data, boltstore.Options{})
		if err != nil {
			return exitError, err
		}
		defer h.store.Close()
		password, err := askPassword(e, "Password: ", "Again: ")
		if err != nil {
			return exitError, err
		}
		// Whoever holds the folder made this user; the entry says so.
		call := inventory.Call{Actor: string(account.Console)}
		u, err := h.accounts.Add(ctx, call, account.NewUser{ID: account.UserID(*id), Name: *name, Role: account.Role(*role)}, password)
		if err != nil {
			return exitError, err
		}
		fmt.Fprintf(e.stdout, "%s (%s) may sign in as %s\n", u.Name, u.Role, u.ID)
		return exitOK, nil
	case "token":
		if *id == "" {
			return exitUsage, wrongUsage("token takes --id, and --label for what it is used for")
		}
		h, err := openHouse(ctx, e, *data, boltstore.Options{MustExist: true})
		if err != nil {
			return exitError, err
		}
		defer h.store.Close()
		t, err := h.accounts.IssueToken(ctx, inventory.Call{Actor: string(account.Console)}, account.NewToken{User: account.UserID(*id), Label: *label})
		if err != nil {
			return exitError, err
		}
		fmt.Fprintln(e.stdout, t.Secret)
		return exitOK, nil
	case "list":
		h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
		if err != nil {
			return exitError, err
		}
		defer h.store.Close()
		us, err := h.accounts.Users(ctx)
		if err != nil {
			return exitError, err
		}
		for _, u := range us {
			state := "active"
			if !u.Active {
				state = "not active"
			}
			fmt.Fprintf(e.stdout, "%-16s %-14s %-10s %s\n", u.ID, u.Role, state, u.Name)
		}
		return exitOK, nil
	}
	return exitUsage, wrongUsage("there is no user command %q: say add, token or list", args[0])
}

// askPassword reads a password: unseen and as often as there are prompts from a
// terminal, as one line from anything else.
func askPassword(e *env, prompts ...string) (string, error) {
	if f, ok := e.stdin.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		got := ""
		for i, prompt := range prompts {
			fmt.Fprint(e.stderr, prompt)
			b, err := term.ReadPassword(int(f.Fd()))
			fmt.Fprintln(e.stderr)
			if err != nil {
				return "", err
			}
			if i > 0 && got != string(b) {
				return "", inventory.Invalid("password", "Type the same password twice.", "the passwords differ")
			}
			got = string(b)
		}
		return got, nil
	}
	line, err := bufio.NewReader(e.stdin).ReadString('\n')
	line = strings.TrimRight(line, "\r\n")
	if line == "" {
		return "", inventory.Invalid("password", "Give it as one line on standard input, or run this in a terminal.", "there is no password (%v)", err)
	}
	return line, nil
}
