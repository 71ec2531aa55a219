package line

import (
	"runtime/debug"
	"strings"
)

// Version names the build: the module's version, or else the revision it was
// built from, and whether files had been changed since.
func Version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return development
	}
	return buildName(info)
}

// Built is the day of the revision that the program was built from; "" where that
// is not known.
func Built() string {
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.time" {
				day, _, _ := strings.Cut(s.Value, "T")
				return day
			}
		}
	}
	return ""
}

const development = "development"

func buildName(info *debug.BuildInfo) string {
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	name := development
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			name += ", revision " + s.Value[:min(12, len(s.Value))]
		case s.Key == "vcs.modified" && s.Value == "true":
			name += ", changed since"
		}
	}
	return name
}
