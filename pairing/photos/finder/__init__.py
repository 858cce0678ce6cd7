"""Where the number's line is on a card of no known form, by networks that were shown drawn cards
of thousands of layouts.

They find, and they are one more reason to refuse; nothing is let through because of them. They
never see the label. How they were made: `MODEL.md`.
"""
