package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/spf13/cobra"

	"sheetwash/api/store"
	"sheetwash/api/wire"
)

func newKey(s *streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "key",
		Short: "Make, list and revoke the keys of a service",
		Args:  noCommand,
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	describe(c, `  sheetwash key create "basin dashboard" --role reader`,
		`Whoever has the shell of the server is its operator and makes the first keys
here; a manager makes further ones over the network. Of a key only a digest of
its secret is kept. A running service sees changes within 5 s.`)
	c.AddCommand(newKeyCreate(s), newKeyList(s), newKeyRevoke(s))
	return c
}

// withRecords opens the records for one command beside a running service.
func (s *streams) withRecords(ctx context.Context, p location, do func(*store.Store) error) (err error) {
	c, err := p.load(s)
	if err != nil {
		return err
	}
	records, err := openRecords(ctx, c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, records.Close()) }()
	if err := do(records); errors.Is(err, store.ErrNotFound) {
		return &failure{exitNotFound, "not_found", err}
	} else if err != nil {
		return err
	}
	return nil
}

func newKeyCreate(s *streams) *cobra.Command {
	var p location
	var k store.Key
	var expires string
	c := &cobra.Command{
		Use:   "create NAME",
		Short: "Make a key and print its secret, this once",
		Args:  arguments(1, 1, "the name of the key"),
		RunE: func(c *cobra.Command, args []string) error {
			k.Name = args[0]
			if err := properKey(&k, expires); err != nil {
				return usage(err)
			}
			return s.withRecords(c.Context(), p, func(records *store.Store) error { return s.createKey(c.Context(), records, k) })
		},
	}
	p.flags(c)
	f := c.Flags()
	f.StringVar(&k.Role, "role", store.RoleReader, "reader, recorder or manager, each with the rights of the one before it")
	f.StringArrayVar(&k.Seasons, "season", nil, "id of a season that the key is for; may be repeated; none: all seasons")
	f.StringArrayVar(&k.Origins, "origin", nil, "origin of pages that may use the key from a browser; readers only; may be repeated")
	f.StringVar(&expires, "expires", "", "last day of the key, such as 2027-03-31 (UTC); none: it stays until it is revoked")
	describe(c, `  sheetwash key create "basin dashboard" --role reader --expires 2099-12-31`,
		`Prints the secret on standard output. It is shown once and kept nowhere: whoever
loses it makes a new key.`)
	return c
}

// properKey refuses a key that cannot be.
func properKey(k *store.Key, expires string) error {
	if strings.TrimSpace(k.Name) == "" || len(k.Name) > 200 {
		return errors.New("a key has a name of 1 to 200 bytes")
	}
	switch k.Role {
	case store.RoleReader, store.RoleRecorder, store.RoleManager:
	default:
		return fmt.Errorf("--role %q is none of reader, recorder, manager", k.Role)
	}
	if len(k.Origins) > 0 && k.Role != store.RoleReader {
		return errors.New("a key for pages of browsers has the role reader")
	}
	for _, o := range k.Origins {
		if u, err := url.Parse(o); err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" || o != u.Scheme+"://"+u.Host {
			return fmt.Errorf("--origin %q is no origin such as https://dashboard.example", o)
		}
	}
	if expires == "" {
		return nil
	}
	day, err := time.Parse(time.DateOnly, expires)
	if err != nil {
		return fmt.Errorf("--expires %q is no day such as 2027-03-31", expires)
	}
	end := day.AddDate(0, 0, 1) // the day itself counts
	if !end.After(time.Now()) {
		return fmt.Errorf("--expires %s is over", expires)
	}
	k.ExpiresAt = &end
	return nil
}

func (s *streams) createKey(ctx context.Context, records *store.Store, k store.Key) error {
	secret, hash, err := store.NewSecret()
	if err != nil {
		return err
	}
	err = records.InTx(ctx, func(tx *store.Tx) (err error) {
		if k, err = tx.CreateKey(ctx, store.Everything, k, hash); err != nil {
			return err
		}
		return tx.AppendAudit(ctx, store.AuditEntry{Caller: "operator", Action: "key.create", Object: k.ID, Detail: k.Role + " " + k.Name})
	})
	if err != nil {
		return err
	}
	if s.json {
		return json.NewEncoder(s.out).Encode(wire.MadeKey{Key: wireKey(k), Secret: secret})
	}
	s.say("Made the key %s. Its secret is shown this once; send it as Authorization: Bearer.", k.ID)
	_, err = fmt.Fprintln(s.out, secret)
	return err
}

func newKeyList(s *streams) *cobra.Command {
	var p location
	c := &cobra.Command{
		Use:   "list",
		Short: "List the keys, revoked and expired ones too",
		Args:  arguments(0, 0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			return s.withRecords(c.Context(), p, func(records *store.Store) error {
				keys, err := allKeys(c.Context(), records)
				if err != nil {
					return err
				}
				return s.listKeys(keys)
			})
		},
	}
	p.flags(c)
	describe(c, "  sheetwash key list", "Lists what is known of the keys. The secrets are not: they are kept nowhere.")
	return c
}

func allKeys(ctx context.Context, records *store.Store) (keys []store.Key, err error) {
	for page := (store.Page{Limit: 500}); ; {
		list, err := records.Keys(ctx, store.Everything, page)
		if err != nil {
			return nil, err
		}
		keys = append(keys, list.Rows...)
		if !list.More {
			return keys, nil
		}
		page.After = list.Next
	}
}

func (s *streams) listKeys(keys []store.Key) error {
	if s.json {
		shown := make([]wire.Key, 0, len(keys))
		for _, k := range keys {
			shown = append(shown, wireKey(k))
		}
		return json.NewEncoder(s.out).Encode(shown)
	}
	w := table.NewWriter()
	w.AppendHeader(table.Row{"id", "name", "role", "seasons", "expires", "last used", "revoked"})
	for _, k := range keys {
		seasons := "all"
		if len(k.Seasons) > 0 {
			seasons = strings.Join(k.Seasons, "\n")
		}
		w.AppendRow(table.Row{k.ID, k.Name, k.Role, seasons, day(k.ExpiresAt), day(k.LastUsedAt), day(k.RevokedAt)})
	}
	_, err := fmt.Fprintln(s.out, w.Render())
	return err
}

// day shows an instant that may be missing.
func day(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.Format("2006-01-02 15:04")
}

func newKeyRevoke(s *streams) *cobra.Command {
	var p location
	c := &cobra.Command{
		Use:   "revoke ID",
		Short: "End a key, at once and for good",
		Args:  arguments(1, 1, "the id of a key"),
		RunE: func(c *cobra.Command, args []string) error {
			return s.withRecords(c.Context(), p, func(records *store.Store) error { return s.revokeKey(c.Context(), records, args[0]) })
		},
	}
	p.flags(c)
	describe(c, "  sheetwash key revoke 01890a5d-ac96-774b-bcce-b302099a8057", "The key is refused within 5 s, by every process of the service. Revoking again\nchanges nothing.")
	return c
}

func (s *streams) revokeKey(ctx context.Context, records *store.Store, id string) error {
	var k store.Key
	err := records.InTx(ctx, func(tx *store.Tx) (err error) {
		if k, err = tx.RevokeKey(ctx, store.Everything, id); err != nil {
			return fmt.Errorf("the key %s: %w", id, err)
		}
		return tx.AppendAudit(ctx, store.AuditEntry{Caller: "operator", Action: "key.revoke", Object: k.ID, Detail: k.Name})
	})
	if err != nil {
		return err
	}
	if s.json {
		return json.NewEncoder(s.out).Encode(wireKey(k))
	}
	s.say("Revoked the key %s (%s).", k.ID, k.Name)
	return nil
}

// wireKey is a key in the shape of the service.
func wireKey(k store.Key) wire.Key {
	return wire.Key{ID: k.ID, Name: k.Name, Role: k.Role, Seasons: append([]string{}, k.Seasons...), Origins: append([]string{}, k.Origins...),
		CreatedAt: k.CreatedAt, ExpiresAt: k.ExpiresAt, LastUsedAt: k.LastUsedAt, RevokedAt: k.RevokedAt, Links: wire.Links{"self": "/v1/keys/" + k.ID}}
}
