"""Syslog text: messages, structured data, what senders say of themselves."""
