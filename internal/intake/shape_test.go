package intake

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/privacy"
)

// TestShapesAgreeWithSQL holds the two ways of writing a value's shape together.
func TestShapesAgreeWithSQL(t *testing.T) {
	db := newStore(t).DB()
	shapes := map[string]bool{}
	for _, v := range []string{"C000000017", "a-B_9", "Zürich 8", "919108f7-52d1-4320-9bac-f847db4148a8", "C232AB00-9414-11EC-B3C8-9F6BDECED846",
		"5df41881-3aed-3515-88a7-2f4a814cf09e", "919108f7-52d1-4320-1bac-f847db4148a8", "919108g7-52d1-4320-9bac-f847db4148a8", "919108f7-52d1-4320-9bac-f847db4148a", "919108f752d1-4320-9bac-f847db4148a8-"} {
		var got string
		require.NoError(t, db.QueryRow("SELECT "+privacy.ShapeSQL+" FROM (SELECT ? AS x)", v).Scan(&got))
		assert.Equal(t, string(privacy.AppendShape(nil, []byte(v))), got, v)
		shapes[got] = true
	}
	assert.Len(t, shapes, 8, "UUIDs have two shapes")
}

// TestTokensAgreeWithSQL puts tokens, and what is nearly one, to both.
func TestTokensAgreeWithSQL(t *testing.T) {
	c, err := newStore(t).DB().Conn(t.Context())
	require.NoError(t, err)
	defer func() { require.NoError(t, c.Close()) }()
	r := rand.New(rand.NewPCG(21, 62))
	_, err = c.ExecContext(t.Context(), "CREATE TEMP TABLE texts (x VARCHAR)")
	require.NoError(t, err)
	var rows []string
	for _, letters := range []string{"0123456789abcdef", "0123456789ABCDEFabcdef", "0123456789ABCDEFGHJKMNPQRSTVWXYZ", "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz", "07aZ", "7a", "aZ", "7aaaaaaaA", "7aA-", "7aé",
		"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_", "7aZ7aZ7aZ7aZ7aZ-_", "7aFeB7c-", "7777aZaZaZ_", "AZ09-", "az09-", "a-Z_x9"} {
		of := []rune(letters)
		for range 500 {
			text := []rune{}
			for range 14 + r.IntN(30) {
				text = append(text, of[r.IntN(len(of))])
			}
			rows = append(rows, "('"+string(text)+"')")
		}
	}
	_, err = c.ExecContext(t.Context(), "INSERT INTO texts VALUES "+strings.Join(rows, ", "))
	require.NoError(t, err)
	found, err := c.QueryContext(t.Context(), "SELECT x, "+privacy.ShapeSQL+" FROM texts")
	require.NoError(t, err)
	defer func() { require.NoError(t, found.Close()) }()
	tokens, others := 0, 0
	for found.Next() {
		var text, got string
		require.NoError(t, found.Scan(&text, &got))
		assert.Equal(t, string(privacy.AppendShape(nil, []byte(text))), got, text)
		if strings.Trim(got, "h") == "" {
			tokens++
		} else {
			others++
		}
	}
	require.NoError(t, found.Err())
	assert.Greater(t, tokens, 500)
	assert.Greater(t, others, 500)
}

// TestShapesAreListedWhereTheyAreFew: whichever of suspects and others are few.
func TestShapesAreListedWhereTheyAreFew(t *testing.T) {
	spans := func(n int) (all []privacy.Span, shapes []string) {
		for i := range n {
			shapes = append(shapes, fmt.Sprintf("s%04d", i))
			all = append(all, privacy.Span{Shape: shapes[i]})
		}
		return all, shapes
	}
	all, shapes := spans(3)
	assert.Empty(t, shapesListed(all, shapes))
	assert.Equal(t, "IN ('s0001')", shapesListed(all, shapes[1:2]))
	all, shapes = spans(maxListed + 2)
	assert.Equal(t, "NOT IN ('s0000', 's0001')", shapesListed(all, shapes[2:]))
	all, shapes = spans(2 * maxListed)
	assert.Empty(t, shapesListed(all, shapes[maxListed:]), "neither are few")
}
