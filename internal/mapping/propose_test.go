package mapping

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func proposed(t *testing.T, grids ...Grid) string {
	t.Helper()
	ctx, c := context.Background(), conn(t)
	var looks []*SheetLook
	for i, g := range grids {
		l, err := LookAt(ctx, c, i, g)
		require.NoError(t, err)
		looks = append(looks, l)
	}
	text, err := Propose(ctx, c, "test", looks)
	require.NoError(t, err)
	return text
}

// TestProposalInOtherLanguages: an invented Spanish list and a Dutch one whose case
// column has a word that tells nothing, which only its values give away.
func TestProposalInOtherLanguages(t *testing.T) {
	cases, visits := "Expediente;Paciente;Clínica;Dentista;Fecha registro;Edad;Sexo;DV oclusión;Última visita\n", "Ref;Datum;Kaak;Duur;Plaats\n"
	for i := range 12 {
		cases += fmt.Sprintf("E%03d;P%03d;A;D%d;%02d/03/2024;%d;%s;%d.5;%02d/11/2024\n", i, i, i%3, i+1, 60+i, []string{"mujer", "varón"}[i%2], 60+i%4, i+13)
		for j := range 3 {
			visits += fmt.Sprintf("E%03d;%02d/0%d/2024;%s;%d;%s\n", i, i+13, 5+j, []string{"boven", "onder"}[j%2], 10+j, []string{"torus", "lipbandje"}[j%2])
		}
	}
	text := proposed(t, gridOf(t, "lista.csv", cases), gridOf(t, "nazorg.csv", visits))
	for _, want := range []string{`case_id = { column = "Expediente" }  # guess`, `site = { column = "Clínica" }`, `clinician = { column = "Dentista" }`,
		`records_on = { column = "Fecha registro", date = "dd/mm/yyyy", keep = "month" }`, "all dates also fit mm/dd/yyyy, please check", `sex = { column = "Sexo", codes = "sex" }`, `"varón" = "male"`,
		`vdo_mm = { column = "DV oclusión", unit = "mm" }`, "most values lie from 60.5 to 63.5", `observed_to_day = { column = "Última visita", day0 = "records" }`,
		`case_id = { column = "Ref" }  # guess: 100 % of its values stand in the column "Expediente" of lista.csv`, `boven = "upper"`, `lipbandje = "labial_frenum"`,
		`minutes = { column = "Duur", unit = "min" }`, `adjusted = { value = "" }  # FILL IN`} {
		assert.Contains(t, text, want)
	}
}

// TestUnknownWordsAreBlanks: what cannot be guessed is marked, and Parse refuses it.
func TestUnknownWordsAreBlanks(t *testing.T) {
	rows := "Case;Patient;Clinic;Dentist;Records date;Last seen;Sex;Lip\n"
	for i := range 12 {
		rows += fmt.Sprintf("K%d;P%d;A;D1;2024-03-%02d;2024-12-%02d;%s;%.2f\n", i, i, i+1, i+1, []string{"female", "male", "male", "qq"}[i%4], 0.4+float64(i)/100)
	}
	text := proposed(t, gridOf(t, "list.csv", rows))
	assert.Contains(t, text, `qq = ""  # FILL IN: in 3 rows; the codes are female, male, other, unknown`)
	assert.Regexp(t, `lip_mm = \{ column = "Lip", unit = "" \}  # FILL IN: .*which fits no unit alone`, text)
	_, err := Parse("p.toml", []byte(text))
	var found Mistakes
	require.ErrorAs(t, err, &found)
	assert.True(t, strings.Contains(err.Error(), "a word without its code") && strings.Contains(err.Error(), "no unit for lip_mm"), err.Error())
}
