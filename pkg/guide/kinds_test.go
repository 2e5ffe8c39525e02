package guide

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
)

// Published repair guides, drawn together: worn stems and cracks for
// polyethylene, cold cracks for ABS, crazing and soft spots for composites, leaks
// for inflatables, rot for wood, corrosion for metal.
func TestWhichDefectsAMaterialCanHave(t *testing.T) {
	for name, row := range map[string]struct {
		material boat.Material
		part     boat.Part
		defect   boat.Defect
		can      bool
	}{
		"polyethylene wears":                   {boat.Rotomoulded, "hull", "abrasion", true},
		"polyethylene cracks":                  {boat.Rotomoulded, "hull", "crack", true},
		"polyethylene does not rot":            {boat.Rotomoulded, "hull", "rot", false},
		"nor does it when cross-linked":        {boat.CrossLinked, "hull", "rot", false},
		"a wooden yoke on polyethylene rots":   {boat.Rotomoulded, "yoke", "rot", true},
		"polyethylene has no layers":           {boat.Rotomoulded, "hull", "delamination", false},
		"ABS has layers":                       {boat.ABSSandwich, "hull", "delamination", true},
		"ABS has no gelcoat":                   {boat.ABSSandwich, "hull", "crazing", false},
		"gelcoat crazes":                       {boat.Composite, "hull", "crazing", true},
		"laminate goes soft":                   {boat.Composite, "hull", "soft spot", true},
		"laminate does not corrode":            {boat.Composite, "hull", "corrosion", false},
		"wood rots":                            {boat.Wood, "hull", "rot", true},
		"wood does not corrode":                {boat.Wood, "hull", "corrosion", false},
		"metal corrodes":                       {boat.Aluminium, "hull", "corrosion", true},
		"metal dents":                          {boat.Aluminium, "hull", "dent", true},
		"metal does not rot":                   {boat.Aluminium, "hull", "rot", false},
		"an inflatable leaks":                  {boat.PVC, "hull", "leaking", true},
		"an inflatable does not stay dented":   {boat.PVC, "hull", "dent", false},
		"a hull number can be altered":         {boat.Rotomoulded, "hull number", "altered", true},
		"a hull number has no cracks":          {boat.Rotomoulded, "hull number", "crack", false},
		"a hull number on metal has no leaks":  {boat.Aluminium, "hull number", "leaking", false},
		"a hull number of any hull can be off": {boat.PVC, "hull number", "missing", true},
	} {
		assert.Equal(t, row.can, Impossible(row.defect, row.part, row.material) == "", name)
		assert.Equal(t, row.can, contains(KindsOf(row.part, row.material), row.defect), name)
	}
}

func TestTheTableOfDefectsUsesTheTradesWords(t *testing.T) {
	assert.Len(t, cannotHave, len(boat.Materials))
	for material, rows := range cannotHave {
		require.NoError(t, boat.Known("", material, boat.Materials))
		for defect, why := range rows {
			require.NoError(t, boat.Known("", defect, boat.Defects))
			assert.NotEmpty(t, why)
		}
	}
}
