package tagcode

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/testdata/pieces"
)

type published struct {
	Largest uint64 `json:"largest_identification"`
	Codes   []struct {
		Decimal  string `json:"decimal"`
		Hex      string `json:"dot_hex"`
		Word     string `json:"word_msb_first"`
		Reversed string `json:"word_bit_reversed"`
	} `json:"codes"`
}

// layout reads the codes of testdata/published/iso11784 (source beside them).
func layout(t *testing.T) published {
	b, err := os.ReadFile("../../testdata/published/iso11784/iso11784.json")
	require.NoError(t, err)
	var p published
	require.NoError(t, json.Unmarshal(b, &p))
	require.NotEmpty(t, p.Codes)
	return p
}

func TestEveryFormIsTheSameFish(t *testing.T) {
	p := layout(t)
	assert.EqualValues(t, p.Largest, LargestIdentification)
	for _, c := range p.Codes {
		want, err := Parse(c.Decimal)
		require.NoError(t, err)
		assert.Equal(t, c.Decimal, want.String())
		assert.Equal(t, c.Hex, want.Hex())
		bare := strings.ReplaceAll(c.Hex, ".", "")
		for _, s := range []string{
			c.Hex, strings.ToLower(c.Hex), bare, strings.ToLower(bare), c.Word, strings.ToLower(c.Word),
			strings.Replace(c.Hex, ".", " ", 1), strings.Replace(c.Hex, ".", ":", 1), strings.Replace(c.Hex, ".", "-", 1),
			"  " + c.Hex + " ", "\u00a0" + c.Decimal, "'" + c.Decimal, c.Decimal + ".0",
			c.Decimal[:3] + " " + c.Decimal[3:], c.Decimal[:3] + "." + c.Decimal[3:7] + "-" + c.Decimal[7:],
		} {
			got, err := Parse(s)
			if assert.NoError(t, err, s) {
				assert.Equal(t, want, got, s)
			}
		}
		got, err := Reversed(c.Reversed)
		require.NoError(t, err)
		assert.Equal(t, want, got)
		got, err = Reversed(c.Decimal)
		require.NoError(t, err)
		assert.Equal(t, want, got)
		for _, s := range []string{c.Decimal, c.Hex, strings.ToLower(c.Hex)} {
			fast, ok := Decode([]byte(s))
			assert.True(t, ok, s)
			assert.Equal(t, want, fast, s)
		}
	}
}

func TestImpossibleCodesAreRefusedWithTheReason(t *testing.T) {
	for code, reason := range map[string]string{
		"":                     "empty",
		"  ":                   "empty",
		"982274877906944":      "identification 274877906944 is impossible: the largest is 274877906943",
		"3D6.4000000000":       "identification 274877906944 is impossible",
		"3E8.0000000001":       "country or manufacturer 1000 is impossible: the largest is 999",
		"000000000000000":      "all zeros",
		"000.0000000000":       "all zeros",
		"98514142135623":       "leading zeros",
		"40000000000007":       "leading zeros",
		"9851414213562371":     "starts with 8000",
		"98514142135":          "11 digits where 15",
		"3D9.20ED5EA4C":        "12 characters where 15",
		"985141421356O37":      `"O" is no digit`,
		"9.85E+14":             "power of ten",
		"9,85E+14":             "power of ten",
		"9.85141E+14 ":         "power of ten",
		"9.85e14":              "power of ten",
		"9.8514142135623E+14":  "power of ten", // fourteen digits: is the last a 0, or lost?
		"9.85141421356237E-14": "power of ten",
		"9.85141421356237E+13": "power of ten",
		"B3257AB7066F0001x":    `"x" is no digit`,
		"0000F660ED5EA4CD":     "not an animal's tag",
		"3257AB7066F00018":     "first bit",
		"33257AB7066F0001":     "bit-reversed",
	} {
		_, err := Parse(code)
		if assert.Error(t, err, code) {
			assert.Contains(t, err.Error(), reason, code)
		}
		_, ok := Decode([]byte(code))
		assert.False(t, ok, code)
	}
	_, err := Reversed("8000F660ED5EA4CC")
	assert.ErrorContains(t, err, "not bit-reversed")
}

// A hexadecimal code with one E between digits is a code, not a power of ten.
func TestHexWithAnE(t *testing.T) {
	c, err := Parse("384.00000000E1")
	require.NoError(t, err)
	assert.Equal(t, "900000000000225", c.String()) // 0xE1 = 225
}

// A workbook may keep all fifteen digits of a number it writes as a power of
// ten: nothing is lost then.
func TestPowerOfTenWithAllDigits(t *testing.T) {
	for _, s := range []string{"9.85141421356237E+14", "9,85141421356237e14", " 9.85141421356237E14 "} {
		c, err := Parse(s)
		require.NoError(t, err, s)
		assert.Equal(t, "985141421356237", c.String())
	}
}

var someTags = []string{"985141421356237", "3D9.20ED5EA4CD", "9.85E+14", "8000F660ED5EA4CD", " 040-000000000007", "", "\x00"}

func FuzzTag(f *testing.F) { pieces.Fuzz(f, sameTag, someTags...) }

func TestComposedTags(t *testing.T) { pieces.Texts(t, 10_000, sameTag, someTags...) }

// sameTag reads a code both ways, and again from each of its forms.
func sameTag(t *testing.T, s string) {
	c, err := Parse(s)
	if fast, ok := Decode([]byte(s)); ok {
		if c, err := Parse(" " + s); err != nil || fast != c { // the blank keeps it from the quick way
			t.Fatalf("%q: the quick way reads %v, the thorough one %v, %v", s, fast, c, err)
		}
	}
	if err != nil {
		return
	}
	for _, form := range []string{c.String(), c.Hex()} {
		if again, err := Parse(form); err != nil || again != c {
			t.Fatalf("%q → %v → %q → %v, %v", s, c, form, again, err)
		}
	}
	if again, err := fromWord(c.Word()); err != nil || again != c {
		t.Fatalf("%q: word %X gives %v, %v", s, c.Word(), again, err)
	}
}

func BenchmarkDecode(b *testing.B) {
	code := []byte("985141421356237")
	for b.Loop() {
		if _, ok := Decode(code); !ok {
			b.Fatal("not read")
		}
	}
}

// The sign that is no digit is shown whole, however many bytes it has.
func TestForeignSignIsShownWhole(t *testing.T) {
	for _, sign := range []string{"č", "ń", "タ"} {
		_, err := Parse(sign + "123")
		require.ErrorContains(t, err, `"`+sign+`" is no digit`)
	}
}

func TestAppendJoined(t *testing.T) {
	for parts, want := range map[string]string{
		"985|141421301000": "985141421301000", "985|7": "985000000000007", "985.0|7.0": "985000000000007", "36|141421301000": "036141421301000",
		"3D9|20ED6FCFB8": "985141422481336", "3d9|ed6fcfb8": "985003983527864", "3D9|0012345678": "985000305419896", " 985 | 141 421 301 000 ": "985141421301000",
	} {
		country, number, _ := strings.Cut(parts, "|")
		got, err := Parse(string(AppendJoined(nil, []byte(country), []byte(number))))
		require.NoError(t, err, parts)
		assert.Equal(t, want, got.String(), parts)
	}
	for _, parts := range []string{"985|", "|7", "985|1.41E+11", "985|1414213010001", "tag|7", "|"} {
		country, number, _ := strings.Cut(parts, "|")
		_, err := Parse(string(AppendJoined(nil, []byte(country), []byte(number))))
		assert.Error(t, err, parts)
	}
}
