"""The catalogue over HTTP: suppliers, plants, pests."""
