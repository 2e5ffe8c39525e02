package web

import (
	"fmt"

	"refloat.example/pkg/message"
)

func sumBench(body message.Body) string {
	switch m := body.(type) {
	case message.StepDone:
		return "A step of the work sheet was done: " + m.Step
	case message.TimerSet:
		return fmt.Sprintf("Waiting until %s: %s", m.Until.UTC().Format("2006-01-02 15:04"), m.What)
	case message.TimerRang:
		return "The time of a timer is over"
	case message.TimerEnded:
		return "Nobody waits for a timer any more"
	case message.TestWaived:
		return fmt.Sprintf("The %s test was waived by an administrator: %s", m.What, m.Why)
	case message.SkillSigned:
		return fmt.Sprintf("A member was signed off for %s: %s", m.Skill, m.Words)
	case message.SkillEnded:
		return fmt.Sprintf("A member is not signed off for %s any more: %s", m.Skill, m.Why)
	case message.MoneyRecovered:
		return fmt.Sprintf("Came in: %s, %s", m.Words, m.Amount)
	case message.RecoveryReversed:
		return fmt.Sprintf("A booking of %s that came in was taken back: %s", m.Amount, m.Why)
	case message.StopAdvised:
		return "Mending costs more than it gains: " + adviceWords(m)
	}
	return ""
}

func sumStock(body message.Body) string {
	switch m := body.(type) {
	case message.BinOpened:
		return "A bin was opened: " + m.Name
	case message.BinChanged:
		return "A bin was put right: " + m.Name
	case message.StockBought:
		return fmt.Sprintf("Bought for the stock for %s", m.Cost)
	case message.StockReserved:
		if m.Quantity == 0 {
			return "Nothing of a bin is reserved for this boat any more"
		}
		return "A part of a bin was reserved for this boat"
	case message.StockTaken:
		return fmt.Sprintf("Taken from the stock: %s of %s, %s", m.Quantity.In(m.Unit), m.Name, m.Cost)
	case message.StockReturned:
		return fmt.Sprintf("Given back to the stock, %s: %s", m.Cost, m.Why)
	case message.StockWrittenOff:
		return fmt.Sprintf("Written off the stock, %s: %s", m.Cost, m.Why)
	case message.StockSalvaged:
		return fmt.Sprintf("Kept as a part, at %s: %s", m.Value, m.Words)
	}
	return ""
}

// adviceWords says what the sums come to, and what is not in them.
func adviceWords(m message.StopAdvised) string {
	sums := fmt.Sprintf("spent so far %s, still to spend %s, gain by mending %s.", m.Spent, m.ToFinish, m.Gain)
	if m.Verdict == message.MendingStop {
		return sums + " Going on costs more than it gains: passing the boat on as parts, or scrapping it, is better. What is spent is gone either way."
	}
	return sums + " In all the repair costs more than it gains, and finishing it still gains more than it costs from here."
}
