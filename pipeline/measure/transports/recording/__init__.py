"""Player, recorder or reel: which of them the faults at playback follow."""
