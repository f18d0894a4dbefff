"""Rules over a plan: what is proven before a ball flies, and the certificate that says so."""

__all__ = [
    "among_others",
    "certificate",
    "certify",
    "changed_group",
    "declared",
    "examples",
    "of_one_ball",
    "rules",
    "set_up",
    "so_soon",
]
