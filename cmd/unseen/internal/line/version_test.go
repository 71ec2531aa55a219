package line

import (
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestBuildIsNamed(t *testing.T) {
	at := func(revision, modified string) *debug.BuildInfo {
		return &debug.BuildInfo{Main: debug.Module{Version: "(devel)"}, Settings: []debug.BuildSetting{{Key: "vcs.revision", Value: revision}, {Key: "vcs.modified", Value: modified}}}
	}
	assert.Equal(t, "development, revision 0123456789ab", buildName(at("0123456789abcdef", "false")))
	assert.Equal(t, "development, revision 0123456789ab, changed since", buildName(at("0123456789abcdef", "true")))
	assert.Equal(t, "development", buildName(&debug.BuildInfo{}))
	assert.Equal(t, "v1.2.0", buildName(&debug.BuildInfo{Main: debug.Module{Version: "v1.2.0"}}))
}
