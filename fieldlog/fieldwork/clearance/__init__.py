"""May this athlete be tested today, and may this set be started? Clearance, stops and the gate."""
