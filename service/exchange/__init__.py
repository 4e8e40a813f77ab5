"""How other systems plug in: events to pull and to be sent, and EPCIS documents."""
