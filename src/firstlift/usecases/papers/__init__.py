"""The life of certificates in a register: draft, review, issue, supersede, withdraw."""
