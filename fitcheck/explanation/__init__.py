"""Why a fitting was assessed as it was: each limit and each joined rule computed again."""
