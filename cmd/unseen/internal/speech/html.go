package speech

import (
	"slices"
	"strings"

	"golang.org/x/net/html"
)

// asTheyAre are elements of which nothing is said otherwise: what is typed, and
// drawings, which were laid out for their words. Others say so by translate="no".
var asTheyAre = []string{"svg", "code", "pre", "script", "style", "textarea"}

// shownAttributes are those that a reader sees or hears.
var shownAttributes = []string{"title", "aria-label", "placeholder", "alt"}

// HTML is a page of which the texts are as say has them; as it is where say is nil.
// A choice that is called as its value stays: it is a name.
func HTML(page string, say func(string) string) string {
	if say == nil {
		return page
	}
	var out strings.Builder
	var stay string // the element that is gone through as it is
	depth := 0
	value := "" // of the choice that is open
	z := html.NewTokenizer(strings.NewReader(page))
	for {
		kind := z.Next()
		if kind == html.ErrorToken {
			return out.String()
		}
		raw := string(z.Raw())
		switch kind {
		case html.StartTagToken, html.SelfClosingTagToken:
			t := z.Token()
			switch {
			case stay != "":
				if kind == html.StartTagToken && t.Data == stay {
					depth++
				}
			case kind == html.StartTagToken && (slices.Contains(asTheyAre, t.Data) || attribute(t, "translate") == "no"):
				stay, depth = t.Data, 1
			default:
				raw = spokenTag(t, raw, say)
			}
			if t.Data == "option" {
				value = attribute(t, "value")
			}
		case html.EndTagToken:
			name, _ := z.TagName()
			if string(name) == stay {
				if depth--; depth == 0 {
					stay = ""
				}
			}
			value = ""
		case html.TextToken:
			text := html.UnescapeString(raw)
			if stay != "" || value != "" && text == value {
				break
			}
			if said := say(text); said != text {
				raw = html.EscapeString(said)
			}
		}
		out.WriteString(raw)
	}
}

func attribute(t html.Token, key string) string {
	for _, a := range t.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

// spokenTag is a tag whose shown attributes are as say has them.
func spokenTag(t html.Token, raw string, say func(string) string) string {
	changed := false
	for i, a := range t.Attr {
		if slices.Contains(shownAttributes, a.Key) {
			t.Attr[i].Val = say(a.Val)
			changed = changed || t.Attr[i].Val != a.Val
		}
	}
	if !changed {
		return raw
	}
	return t.String()
}
