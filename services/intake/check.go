package intake

import (
	"slices"
	"strings"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// maxName is how many characters a boat's name may have.
const maxName = 60

// goodDetails checks what is told of a new giver.
func goodDetails(d message.PersonDetails) error {
	if d.Mail != "" && !strings.Contains(d.Mail, "@") {
		return fault.Field("new_giver.mail", "is not an e-mail address")
	}
	if d.Language != "" && !slices.Contains([]string{"en", "es", "fr"}, d.Language) {
		return fault.Field("new_giver.language", "choose one of: en, es, fr")
	}
	return desk.First(
		desk.Needed("new_giver.name", d.Name, "say what the person is called"),
		desk.OneLine("new_giver.name", d.Name, desk.MaxLine),
		desk.OneLine("new_giver.mail", d.Mail, desk.MaxLine),
		desk.OneLine("new_giver.phone", d.Phone, desk.MaxLine),
		desk.NotLonger("new_giver.address", d.Address, desk.MaxWords),
	)
}
