package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"refloat.example/pkg/watch"
)

func readStrictly(t *testing.T, name string, into any) {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("..", "..", "deploy", "observability", name))
	require.NoError(t, err)
	dec := yaml.NewDecoder(bytes.NewReader(raw))
	dec.KnownFields(true)
	require.NoError(t, dec.Decode(into), name)
}

// measured names every figure that a process gives.
func measured() map[string]bool {
	f := watch.NewFigures()
	f.Queue(func() int { return 0 }, 1)
	f.Ordered("intake", "do", time.Second, nil)
	f.Paged(200, time.Second)
	f.Add(standings{func(context.Context) watch.Health {
		return watch.Health{Head: 2, Relayed: 1, Rooms: []watch.RoomHealth{{Room: "intake"}}}
	}})
	names := map[string]bool{}
	for _, figure := range f.Summary() {
		names[figure.Name] = true
		names[figure.Name+"_bucket"], names[figure.Name+"_count"] = true, true
	}
	return names
}

var figureName = regexp.MustCompile(`refloat_\w+`)

// The rules use figures that there are, and each says what to do. The format is
// that of Prometheus's documentation ("Alerting rules", "Configuration").
func TestAlertsFitTheFigures(t *testing.T) {
	var scrape struct {
		Global    map[string]string `yaml:"global"`
		RuleFiles []string          `yaml:"rule_files"`
		Scrape    []struct {
			Job    string `yaml:"job_name"`
			Static []struct {
				Targets []string `yaml:"targets"`
			} `yaml:"static_configs"`
		} `yaml:"scrape_configs"`
	}
	readStrictly(t, "prometheus.yml", &scrape)
	assert.Equal(t, []string{"alerts.yml"}, scrape.RuleFiles)
	unit, err := os.ReadFile(filepath.Join("..", "..", "deploy", "systemd", "refloat.service"))
	require.NoError(t, err)
	require.Len(t, scrape.Scrape, 1)
	assert.Contains(t, string(unit), "REFLOAT_WATCH_LISTEN="+scrape.Scrape[0].Static[0].Targets[0])

	var rules struct {
		Groups []struct {
			Name  string `yaml:"name"`
			Rules []struct {
				Alert       string            `yaml:"alert"`
				Expr        string            `yaml:"expr"`
				For         string            `yaml:"for"`
				Labels      map[string]string `yaml:"labels"`
				Annotations map[string]string `yaml:"annotations"`
			} `yaml:"rules"`
		} `yaml:"groups"`
	}
	readStrictly(t, "alerts.yml", &rules)
	names, seen := measured(), map[string]bool{}
	for _, group := range rules.Groups {
		for _, r := range group.Rules {
			assert.False(t, seen[r.Alert], "%s stands there twice", r.Alert)
			seen[r.Alert] = true
			_, err := time.ParseDuration(r.For)
			assert.NoError(t, err, r.Alert)
			assert.Contains(t, []string{"page", "ticket"}, r.Labels["severity"], r.Alert)
			assert.NotEmpty(t, r.Annotations["summary"], r.Alert)
			assert.NotEmpty(t, r.Annotations["action"], "%s: say what to do", r.Alert)
			assert.Equal(t, strings.Count(r.Expr, "("), strings.Count(r.Expr, ")"), r.Alert)
			for _, text := range append(figureName.FindAllString(r.Expr, -1), figureName.FindAllString(r.Annotations["action"], -1)...) {
				assert.True(t, names[text], "%s: nothing measures %s", r.Alert, text)
			}
		}
	}
	assert.NotEmpty(t, seen)
}
