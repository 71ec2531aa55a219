package replicate

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
)

// The file of replicates is JSON lines: one that says what they are replicates
// of, then one for each. Files of one run, one after the other, are a file.

// head is the first line. Numbers that do not exist are null.
type head struct {
	Kind      string     `json:"kind"`
	Version   int        `json:"version"`
	Method    string     `json:"method"`
	Seed      uint64     `json:"seed"`
	Data      string     `json:"data_sha256"`
	Model     string     `json:"model_sha256"`
	Words     string     `json:"model"`
	Names     []string   `json:"names"`
	Estimates []*float64 `json:"estimates"`
	Deviance  *float64   `json:"deviance"`
	// Count is how many replicates follow, and Sum that of the line; files of
	// earlier versions have neither.
	Count *int   `json:"replicates,omitempty"`
	Sum   string `json:"sum,omitempty"`
}

// line is a replicate.
type line struct {
	Index     int        `json:"replicate"`
	Seed      uint64     `json:"seed"`
	Data      string     `json:"data_sha256"`
	Model     string     `json:"model_sha256"`
	Estimates []*float64 `json:"estimates,omitempty"`
	Deviance  *float64   `json:"deviance,omitempty"`
	Failure   string     `json:"failure,omitempty"`
	Sum       string     `json:"sum,omitempty"`
}

// encoded is a line of a file, without its end.
func encoded(line any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(line)
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), err
}

// sumOf is the start of the SHA-256, in hex, of the text of a line without its sum: a
// digit that changed on a disk or on its way makes another number, which nothing else
// would tell.
func sumOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// sound tells whether a line that has a sum, and is given without it, is as it was
// written.
func sound(sum string, without any) bool {
	t, err := encoded(without)
	return err == nil && (sum == "" || sum == sumOf(t))
}

func (h head) bare() head { h.Sum = ""; return h }
func (l line) bare() line { l.Sum = ""; return l }

// put writes a line, which has no sum yet, with its sum: the last of its keys.
func put(w io.Writer, line any) error {
	t, err := encoded(line)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "%s,\"sum\":%q}\n", t[:len(t)-1], sumOf(t))
	return err
}

const (
	kind    = "unseen/replicates"
	version = 1
)

func pointers(v []float64) []*float64 {
	out := make([]*float64, len(v))
	for i := range v {
		out[i] = pointer(v[i])
	}
	return out
}

func pointer(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

func values(v []*float64) []float64 {
	out := make([]float64, len(v))
	for i, p := range v {
		out[i] = value(p)
	}
	return out
}

func value(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

// Write writes the replicates as JSON lines.
func (s *Set) Write(w io.Writer) error {
	if w == nil {
		return errors.New("there is nothing to write the replicates to")
	}
	b := bufio.NewWriter(w)
	count := len(s.Replicates)
	if err := put(b, head{kind, version, s.Method, s.Seed, s.Data, s.Model, s.Words, s.Names, pointers(s.Estimates), pointer(s.Deviance), &count, ""}); err != nil {
		return err
	}
	for _, r := range s.Replicates {
		l := line{Index: r.Index, Seed: s.Seed, Data: s.Data, Model: s.Model, Deviance: pointer(r.Deviance), Failure: r.Failure}
		if r.Estimates != nil {
			l.Estimates = pointers(r.Estimates)
		}
		if err := put(b, l); err != nil {
			return err
		}
	}
	return b.Flush()
}

// Read reads what [Set.Write] wrote; name is of the file, for messages. A last
// line broken off, as a killed run leaves it, is an error as any other.
func Read(r io.Reader, name string) (*Set, error) {
	if r == nil {
		return nil, errors.New("there is nothing to read replicates from")
	}
	var parts []*Set
	missing := 0 // of the replicates that the last head tells of
	scan := bufio.NewScanner(r)
	scan.Buffer(nil, 64<<20)
	for n := 1; scan.Scan(); n++ {
		text := bytes.TrimSpace(scan.Bytes())
		if len(text) == 0 {
			continue
		}
		fail := func(format string, args ...any) error {
			return fmt.Errorf("%s, line %d: %s", name, n, fmt.Sprintf(format, args...))
		}
		const damaged = "the line is not as it was written (its sum differs): the file is damaged; get a whole copy"
		var h head
		if err := json.Unmarshal(text, &h); err != nil {
			return nil, fail("no JSON: %v", err)
		}
		if h.Kind != "" {
			if missing > 0 {
				return nil, fail("%d replicates are missing above: the file is cut off; get a whole copy", missing)
			}
			if h.Kind != kind || h.Version != version {
				return nil, fail("kind %q version %d; this program reads %q version %d", h.Kind, h.Version, kind, version)
			}
			if len(h.Estimates) != len(h.Names) {
				return nil, fail("%d names and %d estimates", len(h.Names), len(h.Estimates))
			}
			if !sound(h.Sum, h.bare()) {
				return nil, fail(damaged)
			}
			if missing = 0; h.Count != nil {
				missing = *h.Count
			}
			parts = append(parts, &Set{Method: h.Method, Seed: h.Seed, Data: h.Data, Model: h.Model, Words: h.Words,
				Names: h.Names, Estimates: values(h.Estimates), Deviance: value(h.Deviance)})
			continue
		}
		if len(parts) == 0 {
			return nil, fail("the first line says what the replicates are of; it has no kind %q", kind)
		}
		var l line
		if err := json.Unmarshal(text, &l); err != nil {
			return nil, fail("no replicate: %v", err)
		}
		s := parts[len(parts)-1]
		missing--
		switch {
		case !sound(l.Sum, l.bare()):
			return nil, fail(damaged)
		case l.Index < 1:
			return nil, fail("replicate %d; they are counted from 1", l.Index)
		case l.Seed != s.Seed || l.Data != s.Data || l.Model != s.Model:
			return nil, fail("replicate %d is of other data, another model or seed than the head of the file", l.Index)
		case l.Failure == "" && len(l.Estimates) != len(s.Names):
			return nil, fail("replicate %d has %d estimates, not %d", l.Index, len(l.Estimates), len(s.Names))
		}
		out := Replicate{Index: l.Index, Deviance: value(l.Deviance), Failure: l.Failure}
		if l.Failure == "" {
			out.Estimates = values(l.Estimates)
		}
		s.Replicates = append(s.Replicates, out)
	}
	if err := scan.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(parts) == 0 {
		return nil, fmt.Errorf("%s holds no replicates", name)
	}
	if missing > 0 {
		return nil, fmt.Errorf("%s: the last %d replicates are missing: the file is cut off; get a whole copy", name, missing)
	}
	s, err := Merge(parts...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return s, nil
}
