package bundle

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestCounted(t *testing.T) {
	assert.Equal(t, "0 cases", Counted(0, "case", "cases"))
	assert.Equal(t, "1 case", Counted(int64(1), "case", "cases"))
	assert.Equal(t, "4000 cases", Counted(4000, "case", "cases"))
}
