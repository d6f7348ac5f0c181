"""The client's pages: one set of words, figures and maps, printed as `client.pdf` and shown as `client.html`."""
