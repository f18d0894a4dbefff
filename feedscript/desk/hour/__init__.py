"""The hour as the desk's page draws it: what comes when, who does what, and how it is changed."""
