"""The tracing page: one offline file on which lines and what lies about them are drawn over imagery."""
