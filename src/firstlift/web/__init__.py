"""The app in the browser: parse, call a use case, show. Server-rendered pages; nothing leaves the machine."""
