"""Pictures and reports: what a program will do, and what a session did."""
