package tagindex

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Two texts whose hashes are the same are still two tags.
func TestTextsWithOneHash(t *testing.T) {
	x := New(2, true, 0)
	x.Set(x.Put(7, "A1"), Meaning{Fish: 1})
	x.Set(x.Put(7, "B2"), Meaning{Fish: 2})
	require.NotNil(t, x.Find(7, []byte(" B2 ")))
	assert.EqualValues(t, 2, x.Find(7, []byte(" B2 ")).Fish())
	assert.EqualValues(t, 1, x.Find(7, []byte("A1")).Fish())
	assert.Nil(t, x.Find(7, []byte("C3")))
	assert.Nil(t, x.Find(8, []byte("A1")))
}
