package cjs_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
)

const dipperFolder = "../testdata/published/lebreton1992/"

// dipper is the input of the dipper data, read as a user's study would be.
func dipper(t testing.TB, file string) model.Input {
	t.Helper()
	st, err := study.Load(dipperFolder + file)
	require.NoError(t, err)
	h, _, err := ready.Read(st)
	require.NoError(t, err)
	in, err := model.FromStudy(st, h, nil, nil)
	require.NoError(t, err)
	return in
}

type dipperModels struct {
	Models []struct {
		Survival, Detection string
		Minus2LnL           float64 `json:"minus_two_log_likelihood"`
		Parameters          int
		Estimable           int
		AICc                float64
		AtBoundary          []string     `json:"at_boundary"`
		SurvivalEstimates   []dipperEst  `json:"survival_estimates"`
		DetectionEstimates  []dipperEst  `json:"detection_estimates"`
		LastProduct         []dipperProd `json:"last_product"`
	}
}

type dipperEst struct {
	Sex, From, To, Site string
	Estimate            *float64
	SE, Low, High       *float64
	Status              string
}

type dipperProd struct {
	Group    string
	Est, SE  float64
	LCL, UCL float64
}

func readJSON(t testing.TB, file string, into any) {
	t.Helper()
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

// TestDipperModels holds every model of models.json to its values: two
// independent implementations that agree to 1e-9 (see SOURCE.md there).
func TestDipperModels(t *testing.T) {
	in := dipper(t, "dipper.toml")
	var want dipperModels
	readJSON(t, dipperFolder+"models.json", &want)
	require.Equal(t, 27, len(want.Models))
	for _, m := range want.Models {
		t.Run(m.Survival+" | "+m.Detection, func(t *testing.T) {
			p, err := model.Build(in, model.Spec{Survival: m.Survival, Detection: m.Detection})
			require.NoError(t, err)
			f, err := cjs.New(context.Background(), p, cjs.Options{Interval: "logit"})
			require.NoError(t, err)
			assert.Equal(t, cjs.Converged, f.Verdict)
			// The sources print 12 digits and agree to 1e-9.
			assert.InDelta(t, m.Minus2LnL, f.MinusTwoLogLikelihood, 1e-6)
			assert.Equal(t, m.Parameters, f.Parameters)
			assert.Equal(t, m.Estimable, f.Estimable)
			assert.InDelta(t, m.AICc, f.AICc, 1e-6)
			at := func(of []cjs.Category, sex string) bool {
				return len(of) == 0 || of[0].Level == sex
			}
			check := func(what string, w dipperEst, e cjs.Estimate) {
				switch w.Status {
				case "estimated":
					assert.Contains(t, []cjs.Status{cjs.Estimated, cjs.Borrowed}, e.Status, what)
					// 1e-6 and 1e-5 as the values are good for.
					assert.InDelta(t, *w.Estimate, e.Value, 1e-6, what)
					assert.InDelta(t, *w.SE, e.SE, 1e-5, what)
					assert.InDelta(t, *w.Low, e.Low, 1e-5, what)
					assert.InDelta(t, *w.High, e.High, 1e-5, what)
				case "boundary":
					assert.Equal(t, cjs.Boundary, e.Status, what)
					assert.Equal(t, *w.Estimate, e.Value, what)
					assert.True(t, math.IsNaN(e.SE), what)
					assert.Equal(t, "profile", e.Method)
				case "inseparable":
					assert.Equal(t, cjs.Inseparable, e.Status, what)
					assert.True(t, math.IsNaN(e.Value), what)
				default:
					t.Fatalf("status %q", w.Status)
				}
			}
			n := 0
			for _, w := range m.SurvivalEstimates {
				for _, s := range f.Survival {
					if at(s.Of, w.Sex) && p.Histories.River.Sites[s.From].Name == w.From {
						check(fmt.Sprint("survival ", w.Sex, w.From), w, s.Estimate)
						n++
					}
				}
			}
			for _, w := range m.DetectionEstimates {
				for _, s := range f.Detection {
					if at(s.Of, w.Sex) && p.Histories.River.Sites[s.Site].Name == w.Site {
						check(fmt.Sprint("detection ", w.Sex, w.Site), w, s.Estimate)
						n++
					}
				}
			}
			assert.Equal(t, 24, n)
			for _, w := range m.LastProduct {
				for _, pr := range f.Products {
					if at(pr.Of, w.Group) {
						assert.InDelta(t, w.Est, pr.Value, 1e-6)
						assert.InDelta(t, w.SE, pr.SE, 1e-5)
						assert.InDelta(t, w.LCL, pr.Low, 1e-5)
						assert.InDelta(t, w.UCL, pr.High, 1e-5)
					}
				}
			}
		})
	}
}
