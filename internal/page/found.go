package page

// found is a text of the findings in the page's language.
func (w words) found(text string) string { return text }

func (w words) allFound(texts []string) []string {
	out := make([]string, len(texts))
	for i, t := range texts {
		out[i] = w.found(t)
	}
	return out
}
