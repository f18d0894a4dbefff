"""What a rule is, the facts it looks at, and how rules are applied."""

__all__ = ["apply_rules", "areas", "declared", "limit", "plan_facts", "spans", "tries"]
