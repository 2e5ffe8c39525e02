package desk

// ApplyBatch lets tests hand events to a room's tables as no stream would.
var ApplyBatch = (*Desk).applyBatch
