package intake

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestProgressCountsRows: the stages come in their order, count up to what there
// is, and count rows once the rows are known; the same for a mapped export, whose
// sheets are read, screened and turned first.
func TestProgressCountsRows(t *testing.T) {
	plain := []string{"reading", "looking", "typing", "screening", "checking", "storing", "stored"}
	for _, c := range []struct {
		path, mapping string
		stages        []string
		rows          int64
	}{
		{cleanBundle, "", plain, 300 + 540 + 300 + 199 + 540 + 688 + 688 + 8},
		{mappings + "a_clinic_export", mappings + "a_clinic.toml", append([]string{"reading", "screening", "turning"}, plain...), 300 + 540 + 300 + 540 + 685 + 685 + 3},
	} {
		var stages []string
		last := int64(-1)
		progress := func(stage string, done, total int64) {
			if len(stages) == 0 || stages[len(stages)-1] != stage {
				stages, last = append(stages, stage), -1
			}
			assert.GreaterOrEqual(t, done, last, stage)
			assert.LessOrEqual(t, done, total, stage)
			last = done
			if stage == "storing" || stage == "stored" {
				assert.Equal(t, c.rows, total)
			}
		}
		_, err := Load(context.Background(), newStore(t), c.path, LoadOptions{Mapping: c.mapping, Progress: progress})
		require.NoError(t, err)
		assert.Equal(t, c.stages, stages)
		assert.Equal(t, c.rows, last)
	}
}
