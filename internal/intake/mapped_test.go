package intake

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/mapping"
	"afterfit/internal/sheets"
	"afterfit/internal/store"
)

func TestEncodingsAgree(t *testing.T) {
	assert.Equal(t, sheets.Encodings(), mapping.Encodings)
	assert.Equal(t, []string{sheets.CSV, sheets.XLSX, sheets.Parquet, sheets.NDJSON}, mapping.Formats)
}

const mappings = "../../testdata/mappings/"

func TestTry(t *testing.T) {
	for _, s := range [][2]string{{"a_clinic_export", "a_clinic.toml"}, {"b_quality_export.xlsx", "b_quality.toml"}} {
		st, err := store.Open(context.Background(), "", store.Options{})
		require.NoError(t, err)
		res, err := Load(context.Background(), st, mappings+s[0], LoadOptions{Mapping: mappings + s[1]})
		require.NoError(t, err)
		t.Logf("%+v", res)
	}
}
