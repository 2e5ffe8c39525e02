package ledger

const childURL = "REFLOAT_TEST_LEDGER_CHILD"

func beChild(string) {}
