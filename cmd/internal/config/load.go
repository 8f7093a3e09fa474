package config

import (
	"fmt"
	"os"
	"sort"
	"strings"

	"github.com/caarlos0/env/v11"
	"go.yaml.in/yaml/v3"
)

// Load returns the defaults with the file and the environment over them. An empty
// path reads no file. A name that is not known is an error, so that a typing error
// does not leave a limit as it was.
func Load(path string, getenv func(string) string) (Config, error) {
	c := Default()
	params, err := env.GetFieldParamsWithOptions(&c, env.Options{Prefix: Prefix})
	if err != nil {
		return c, fmt.Errorf("list settings: %w", err)
	}
	values := map[string]string{}
	if path != "" {
		if values, err = readFile(path, params); err != nil {
			return c, err
		}
	}
	for _, p := range params {
		if v := getenv(p.Key); v != "" {
			values[p.Key] = v
		}
	}
	if err := env.ParseWithOptions(&c, env.Options{Prefix: Prefix, Environment: values}); err != nil {
		return c, fmt.Errorf("read settings: %w", err)
	}
	return c, c.readSecret()
}

// readFile reads a YAML file of settings: the names of the environment in small
// letters and without the prefix, limits below limits.
func readFile(path string, params []env.FieldParams) (map[string]string, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var tree map[string]any
	if err := yaml.Unmarshal(data, &tree); err != nil {
		return nil, fmt.Errorf("read %s: %w", path, err)
	}
	if limits, ok := tree["limits"].(map[string]any); ok {
		delete(tree, "limits")
		for name, v := range limits {
			tree["limit_"+name] = v
		}
	}
	known := map[string]bool{}
	var names []string
	for _, p := range params {
		known[p.Key] = true
		names = append(names, strings.ToLower(strings.TrimPrefix(p.Key, Prefix)))
	}
	sort.Strings(names)
	out := map[string]string{}
	for name, v := range tree {
		key := Prefix + strings.ToUpper(name)
		if !known[key] {
			return nil, fmt.Errorf("%s: there is no setting %q; there is %s (limit_ stands below limits)", path, name, strings.Join(names, ", "))
		}
		if out[key], err = flat(v); err != nil {
			return nil, fmt.Errorf("%s: %s: %w", path, name, err)
		}
	}
	return out, nil
}

// flat is a value as it stands in the environment.
func flat(v any) (string, error) {
	switch v := v.(type) {
	case nil:
		return "", nil
	case map[string]any:
		return "", fmt.Errorf("a text, a number or a list is wanted")
	case []any:
		var parts []string
		for _, x := range v {
			parts = append(parts, fmt.Sprint(x))
		}
		return strings.Join(parts, ","), nil
	}
	return fmt.Sprint(v), nil
}
